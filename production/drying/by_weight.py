"""Judgement by weight alone whether a cast is dry; `judgement` has the last word.

Plaster dries markedly slower than an ideal porous body (Seck and others, J. Mater. Sci. 50 (2015) 2491), so no formula
of evaporation is used, only the scale. About a week is common practice, without a published source.

The trap: "changes by under 0.1 % a day" alone passes a slow cast that still holds one or two percent of water. So the
weight is also compared with the dry weight that the mix gives, and with the end of the exponential through the last
weighings, if they show one.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from math import exp, log
from typing import NamedTuple

from production import plaster
from studio import units

# ISO 12570 is cited from memory; its text was not read.
STEADY_PERCENT_PER_DAY = 0.1  # ISO 12570: constant mass

MIN_HOURS_APART = 20.0

TWO_DAYS_HOURS = 44.0  # three weighings a day apart (ISO 12570), with leeway

THREE_DAYS_HOURS = 68.0

FREE_WATER_GONE = 0.93  # strength hardly rises before (a maker's technical note on drying casts)

EXCESS_SHARE = 0.005

SCALE_G = 1.0

CONSISTENCY_ERROR = 0.03


@dataclass(frozen=True, slots=True)
class Weighed:
    """One weighing of one piece, in grams; `at` is aware, in the local time zone.

    Raises ValueError unless the mass is above zero.
    """

    at: datetime
    mass_g: float

    def __post_init__(self) -> None:
        if not self.mass_g > 0:
            raise ValueError("A weight must be above zero.")


@dataclass(frozen=True, slots=True)
class Dryness:
    """Dry or not, a sentence for a person, and the two figures behind it.

    `loss_percent_per_day` is negative for a gain, None before two weighings 20 hours apart. `free_water_left_g` is None
    if the fresh weight is unknown or contradicts the mix.
    """

    dry: bool
    sentence: str
    loss_percent_per_day: float | None
    free_water_left_g: float | None


@dataclass(frozen=True, slots=True)
class Exponential:
    """An exponential through three weighings: the mass it approaches and its rate."""

    end_g: float
    rate_per_day: float


class _Loss(NamedTuple):
    """Loss between the last weighing and the latest one at least 20 hours before it."""

    since: datetime
    grams: float
    grams_per_day: float
    percent_per_day: float


class _Expected(NamedTuple):
    """Dry mass and initial free water by the mix, with the errors of mix and scale in grams."""

    dry_g: float
    free_water_g: float
    mix_error_g: float
    scale_error_g: float


def judge_by_weight(
    weighings: Sequence[Weighed],
    *,
    fresh_g: float | None,
    consistency: float,
    purity: float = 1.0,
    scale_g: float = SCALE_G,
) -> Dryness:
    """Judge one cast from its weighings (any order) and, where known, its mass at demoulding.

    Dry means all of:

    - steady: under 0.1 % a day (ISO 12570) over at least 20 hours. If the last step is within the error of the scale
      (`scale_g`), a longer stretch of weighings may show it, so that a flicker of a gram does not block for ever;
    - with a known `fresh_g`, close to the dry mass of the mix: within 0.5 % plus the error of the scale, and 93 % of
      the free water gone. The water of a mix is rarely known better than to 3 %, which moves the dry mass by about
      1 %: inside that wider band a cast is dry only after three steady days, because the mix cannot tell damp from a
      stiffer mix. Beyond the band it is never dry by this rule: the owner decides, with a reason;
    - without a fresh mass, steady for two days: three weighings a day apart (ISO 12570);
    - within 0.5 % of the end of the exponential, if three weighings show one (`fit_exponential`).

    Limit of this rule alone (`judgement.judge_dryness` adds the drying curve), from simulated casts of 320 g on a
    scale of 1 g: a cast that takes two weeks to dry may pass with 1 % of water, or 2 % if the mix was 3 % wetter than
    noted. A cast lighter than any such mix has a wrong fresh weight or is broken: its mix is ignored. Raises
    ValueError for an impossible fresh mass or consistency.
    """
    expected = _expected(fresh_g, consistency, purity, scale_g)
    ordered = sorted(weighings, key=lambda weighed: weighed.at)
    if not ordered:
        return Dryness(False, "Not weighed yet: weigh it today and again tomorrow.", None, None)
    last_g = ordered[-1].mass_g
    if expected and last_g < expected.dry_g - expected.mix_error_g - expected.scale_error_g:
        expected = None
    left_g = None if expected is None else max(0.0, last_g - expected.dry_g)
    loss = _latest_loss(ordered)
    if loss is None:
        return Dryness(False, _sentence_too_soon(ordered), None, left_g)
    reason = _why_not_steady(ordered, loss, scale_g) or _why_still_damp(ordered, expected, scale_g)
    sentence = reason or _dry_sentence(fresh_g, expected)
    return Dryness(not reason, sentence, loss.percent_per_day, left_g)


def is_heavier(previous: Weighed, mass_g: float, tolerance_g: float = SCALE_G) -> bool:
    """Whether a piece weighs more than before by more than the tolerance: a typing error, another piece, or wet."""
    return mass_g > previous.mass_g + tolerance_g


def fit_exponential(weighings: Sequence[Weighed], scale_g: float = SCALE_G) -> Exponential | None:
    """Fit an exponential through the last weighing and two before it, equally spaced to within a tenth.

    With losses a = m1 - m2, b = m2 - m3 and steps of h: end = m3 - b²/(a - b), k = ln(a/b) / h, for 0 < b < a. None if
    the losses or their difference are within the error of the scale, if the end is below half the last mass (the loss
    is still linear), or if the curve misses a weighing in between by more than twice the error of the scale.
    """
    ordered = sorted(weighings, key=lambda weighed: weighed.at)
    for first, middle in _pairs_before_last(ordered):
        found = _exponential_through(first, middle, ordered[-1], scale_g)
        if found and _fits_all(found, first, ordered, scale_g):
            return found
    return None


def _pairs_before_last(ordered: Sequence[Weighed]) -> list[tuple[Weighed, Weighed]]:
    """Pairs of earlier weighings at equal steps of 20 hours or more before the last one, the latest first."""
    pairs = []
    for j in range(len(ordered) - 2, 0, -1):
        step = _hours(ordered[j], ordered[-1])
        for i in range(j - 1, -1, -1):
            before = _hours(ordered[i], ordered[j])
            if step >= MIN_HOURS_APART and abs(before - step) <= step / 10:
                pairs.append((ordered[i], ordered[j]))
    return pairs


def _exponential_through(
    first: Weighed, middle: Weighed, last: Weighed, scale_g: float
) -> Exponential | None:
    earlier_g, later_g = first.mass_g - middle.mass_g, middle.mass_g - last.mass_g
    if later_g < 2 * scale_g or earlier_g - later_g < scale_g:
        return None
    end_g = last.mass_g - later_g**2 / (earlier_g - later_g)
    if end_g < last.mass_g / 2:
        return None
    step_days = _hours(first, last) / 2 / 24
    return Exponential(end_g, -log(later_g / earlier_g) / step_days)


def _fits_all(
    found: Exponential, first: Weighed, ordered: Sequence[Weighed], scale_g: float
) -> bool:
    above_g = first.mass_g - found.end_g
    return all(
        abs(found.end_g + above_g * exp(-found.rate_per_day * days) - weighed.mass_g) <= 2 * scale_g
        for weighed in ordered
        if (days := _hours(first, weighed) / 24) > 0
    )


def _expected(
    fresh_g: float | None, consistency: float, purity: float, scale_g: float
) -> _Expected | None:
    share = plaster.dry_share(consistency, purity)
    if fresh_g is None:
        return None
    if not fresh_g > 0:
        raise ValueError("The fresh weight must be above zero.")
    stiffer = (100 + plaster.WATER_BOUND_G_PER_100_G * purity) / (
        100 + consistency * (1 - CONSISTENCY_ERROR)
    )
    return _Expected(
        dry_g=fresh_g * share,
        free_water_g=fresh_g * (1 - share),
        mix_error_g=fresh_g * (stiffer - share),
        scale_error_g=scale_g * (1 + share),
    )


def _latest_loss(ordered: Sequence[Weighed]) -> _Loss | None:
    last = ordered[-1]
    for earlier in reversed(ordered):
        hours = _hours(earlier, last)
        if hours >= MIN_HOURS_APART:
            grams = earlier.mass_g - last.mass_g
            per_day = grams * 24 / hours
            return _Loss(earlier.at, grams, per_day, 100 * per_day / earlier.mass_g)
    return None


def _steady_for_hours(ordered: Sequence[Weighed]) -> float:
    """Hours of the longest stretch up to the last weighing whose spread stays under 0.1 % a day."""
    last = ordered[-1]
    longest = 0.0
    least_g = most_g = last.mass_g
    for earlier in reversed(ordered):
        least_g, most_g = min(least_g, earlier.mass_g), max(most_g, earlier.mass_g)
        hours = _hours(earlier, last)
        allowed_g = STEADY_PERCENT_PER_DAY / 100 * earlier.mass_g * hours / 24
        if hours >= MIN_HOURS_APART and most_g - least_g < allowed_g:
            longest = hours
    return longest


def _why_not_steady(ordered: Sequence[Weighed], loss: _Loss, scale_g: float) -> str:
    if abs(loss.percent_per_day) < STEADY_PERCENT_PER_DAY:
        return ""
    if abs(loss.grams) <= scale_g and _steady_for_hours(ordered):
        return ""
    if loss.grams < -scale_g:
        since = units.day(loss.since.date())
        return f"Heavier by {-loss.grams:.1f} g than on {since}: check piece and scale, then weigh again tomorrow."
    if loss.grams < 0:
        return "Not steady yet: weigh again tomorrow."
    return f"Still losing {loss.grams_per_day:.1f} g a day: weigh again tomorrow."


def _why_still_damp(ordered: Sequence[Weighed], expected: _Expected | None, scale_g: float) -> str:
    last_g = ordered[-1].mass_g
    found = fit_exponential(ordered, scale_g)
    if found and last_g - found.end_g > EXCESS_SHARE * found.end_g:
        return f"Drying slowly, with about {last_g - found.end_g:.0f} g still to lose: weigh again in two days."
    if expected:
        return _why_above_the_mix(ordered, expected)
    if _steady_for_hours(ordered) < TWO_DAYS_HOURS:
        return "Steady so far, but its mix cannot confirm it: dry if it holds for two days. Weigh again tomorrow."
    return ""


def _why_above_the_mix(ordered: Sequence[Weighed], expected: _Expected) -> str:
    excess_g = ordered[-1].mass_g - expected.dry_g
    close_g = EXCESS_SHARE * expected.dry_g + expected.scale_error_g
    damp_g = (1 - FREE_WATER_GONE) * expected.free_water_g + expected.scale_error_g
    if excess_g <= min(close_g, damp_g):
        return ""
    if excess_g > min(close_g, damp_g) + expected.mix_error_g:
        return (
            f"Steady, but about {excess_g:.0f} g of water are left by the mix: move it to warmer, moving air "
            "(not above 42 °C), or check the mix and the fresh weight that were noted."
        )
    if _steady_for_hours(ordered) >= THREE_DAYS_HOURS:
        return ""
    return f"Steady, but {excess_g:.0f} g above the dry weight of its mix: dry if it holds for three days. Weigh again tomorrow."


def _sentence_too_soon(ordered: Sequence[Weighed]) -> str:
    if len(ordered) == 1:
        return "Weighed once: weigh again tomorrow, at least 20 hours later."
    return "The weighings are too close together: weigh again tomorrow, at least 20 hours after the first."


def _dry_sentence(fresh_g: float | None, expected: _Expected | None) -> str:
    if expected is not None:
        return "Dry: the weight is steady and agrees with the mix."
    if fresh_g is None:
        return (
            "Dry: the weight is steady. Without a fresh weight a slow cast may hide a little damp."
        )
    return (
        "Dry: the weight is steady, though lighter than its mix allows: was the fresh weight right?"
    )


def _hours(earlier: Weighed, later: Weighed) -> float:
    return (later.at - earlier.at).total_seconds() / 3600
