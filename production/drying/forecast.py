"""The day on which a cast will be dry, with an interval, from its weighings and what is known before.

Dry is meant as the gate means it (`gate.judge`): all three of an excess under 0.5 % of the dry mass, 93 %
of the free water gone, and under 0.1 % lost in the 24 hours before. So the day named is the first on which
a perfect scale would let the cast go.

Before any weighing the days come from thickness, free water and room (`prior_days`), or from the unit's own
pieces. Each weighing then narrows them: over a grid of rates and shapes (`law`) the dry mass and the free
water are fitted as two Gaussian unknowns, whose prior is the mix, and every grid point is weighed by how
well it agrees. What no weighing can tell, how the room will be, widens what is left.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache

import numpy as np

from production.drying.air import ORDINARY_ROOM, Room, evaporation_g_per_m2_h
from production.drying.clock import USUAL, Clock
from production.drying.gate import EXCESS_SHARE, FREE_WATER_GONE, STEADY_PERCENT_PER_DAY, Weighed
from production.drying.law import Numbers, family, shares_left

ORDINARY_DAYS = 7.0  # about a week: common practice, no source
ORDINARY_THICKNESS_MM = 20.0
ORDINARY_FREE_G_PER_ML = 0.48
MOST_DAYS = 120.0

# Which share of an ordinary piece's week the air takes and which the inside: no source, the weighings
# of the unit's own pieces take over (`learning`).
AIR_SHARE = 0.5
UNLEARNT_LOG_SD = 0.35

_RATES = 221
_RATES_SPAN = (-2.8, 1.6)  # in logarithms, below and above the rate that is thought likely
_TAILS = 5.0  # degrees of freedom: a piece may be far from all before it
_LAW_OFF_BY = 0.008  # of the free water: no cast follows any curve exactly
_ROOM_LOG_SD = 0.02
_END_SD_DAYS = 0.13
# The last of the water leaves a little slower than any exponential: found on four thousand histories of
# seeds 3001 to 3004, which were named 0.06 days early on average.
_END_LATER_DAYS = 0.06
_LATER_STEPS = np.array([-1.6448536, -1.0364334, -0.6744898, -0.3853205, -0.1256613])
ONE_IN_TEN_SD = 1.2815516


@dataclass(frozen=True, slots=True)
class Prior:
    """What is known of a cast beside its weighings.

    `days` from the mould to dry, with the standard deviation of their logarithm; its mass as it came
    out of the mould, and the share of it that stays when dry, each with a standard deviation; `curves`
    is how much each of `law.family` is believed, all alike where empty.
    """

    days: float
    days_log_sd: float
    fresh_g: float
    fresh_sd_g: float
    dry_share: float
    dry_share_sd: float
    curves: Sequence[float] = ()


@dataclass(frozen=True, slots=True)
class Forecast:
    """When it will be dry: one in ten before `early_at`, one in ten after `late_at`, `likely_at` on average.

    `curves` is how much each of `law.family` is believed by now, empty before the first weighing.
    `dry_g` and `free_water_left_g` are estimates of now, the time of the last weighing (or demoulding).
    """

    early_at: datetime
    likely_at: datetime
    late_at: datetime
    dry_g: float
    free_water_left_g: float
    excess_sd_g: float
    curves: tuple[float, ...] = ()


def prior_days(
    thickness_mm: float = ORDINARY_THICKNESS_MM,
    free_g_per_ml: float = ORDINARY_FREE_G_PER_ML,
    room: Room = ORDINARY_ROOM,
) -> float:
    """Days from the mould to dry for a slab open on both faces: 7 for an ordinary piece and room.

    The air's part grows with the water behind each face and falls with what the air can take; the
    inside's part grows with the square of the thickness. 120 days where the air takes nothing.
    """
    if not thickness_mm > 0 or not free_g_per_ml > 0:
        raise ValueError("Thickness and free water must be above zero.")
    drought = evaporation_g_per_m2_h(room) / evaporation_g_per_m2_h(ORDINARY_ROOM)
    thicker = thickness_mm / ORDINARY_THICKNESS_MM
    wetter = free_g_per_ml / ORDINARY_FREE_G_PER_ML
    if drought <= 0:
        return MOST_DAYS
    days = ORDINARY_DAYS * (AIR_SHARE * thicker * wetter / drought + (1 - AIR_SHARE) * thicker**2)
    return min(days, MOST_DAYS)


def forecast(
    weighings: Sequence[Weighed],
    *,
    demoulded_at: datetime,
    prior: Prior,
    scale_g: float,
    clock: Clock = USUAL,
) -> Forecast:
    """The forecast of a demoulded cast from its weighings (any order, none is allowed).

    `scale_g` is the scale's own error. The days of `prior` are those of the usual room, and `clock` says
    how fast they pass. About 5 ms.
    """
    ordered = sorted(weighings, key=lambda weighed: weighed.at)
    if not ordered:
        return _unweighed(demoulded_at, prior, clock)
    after_days = np.array([clock.passed_days(demoulded_at, weighed.at) for weighed in ordered])
    masses_g = np.array([weighed.mass_g for weighed in ordered])
    rates = _rates(prior.days)
    fitted = _fit(np.maximum(after_days, 0.0), masses_g, rates, prior, scale_g)
    dry_days = _dry_days(rates, fitted.dry_g, fitted.free_g)
    log_weight = fitted.log_weight + _log_prior(dry_days, prior)
    if prior.curves:
        log_weight += np.log(np.asarray(prior.curves))[:, None]
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    last_day = float(after_days[-1])
    early, likely, late = _interval(dry_days, weight, last_day)
    left_g = fitted.free_g * shares_left(rates * max(last_day, 0.0))
    left_mean_g = float((weight * left_g).sum())
    return Forecast(
        early_at=clock.after(demoulded_at, early),
        likely_at=clock.after(demoulded_at, likely),
        late_at=clock.after(demoulded_at, late),
        dry_g=float((weight * fitted.dry_g).sum()),
        free_water_left_g=left_mean_g,
        excess_sd_g=float(np.sqrt((weight * (left_g - left_mean_g) ** 2).sum())),
        curves=tuple(float(each) for each in weight.sum(1)),
    )


def _unweighed(demoulded_at: datetime, prior: Prior, clock: Clock) -> Forecast:
    days = prior.days * np.exp(np.array([-1.0, 0.0, 1.0]) * ONE_IN_TEN_SD * prior.days_log_sd)
    early_at, likely_at, late_at = (clock.after(demoulded_at, float(each)) for each in days)
    dry_g = prior.fresh_g * prior.dry_share
    free_sd_g = float(_masses_covariance(prior)[1, 1] ** 0.5)
    return Forecast(early_at, likely_at, late_at, dry_g, prior.fresh_g - dry_g, free_sd_g)


@dataclass(frozen=True, slots=True)
class _Fitted:
    """Per curve (rows) and rate (columns): the masses that agree best, and how well they do."""

    dry_g: Numbers
    free_g: Numbers
    log_weight: Numbers


def _log_prior(dry_days: Numbers, prior: Prior) -> Numbers:
    """Student's t of the logarithm of the days."""
    off_by = np.log(dry_days / prior.days) / prior.days_log_sd
    believed: Numbers = -(_TAILS + 1) / 2 * np.log1p(off_by**2 / _TAILS)
    return believed


def _fit(
    after_days: Numbers, masses_g: Numbers, rates: Numbers, prior: Prior, scale_g: float
) -> _Fitted:
    """Dry mass and free water as Gaussian unknowns of each curve and rate, in closed form."""
    shares = shares_left(np.multiply.outer(rates, after_days))
    dry_g = prior.fresh_g * prior.dry_share
    free_g = prior.fresh_g - dry_g
    precision = np.linalg.inv(_masses_covariance(prior))
    left = np.clip((masses_g - dry_g) / (masses_g.max() - dry_g), 0.01, 1.0)
    noise_var = scale_g**2 / 3 + (_LAW_OFF_BY * free_g * left * (1 - np.log(left))) ** 2
    residual_g = masses_g - dry_g - free_g * shares
    dd = precision[0, 0] + (1 / noise_var).sum()
    df = precision[0, 1] + (shares / noise_var).sum(-1)
    ff = precision[1, 1] + (shares**2 / noise_var).sum(-1)
    along_d = (residual_g / noise_var).sum(-1)
    along_f = (residual_g * shares / noise_var).sum(-1)
    determinant = dd * ff - df**2
    more_dry_g = (ff * along_d - df * along_f) / determinant
    more_free_g = (dd * along_f - df * along_d) / determinant
    misfit = (residual_g**2 / noise_var).sum(-1) - (more_dry_g * along_d + more_free_g * along_f)
    return _Fitted(
        dry_g=np.maximum(dry_g + more_dry_g, 1.0),
        free_g=np.maximum(free_g + more_free_g, 0.1),
        log_weight=-0.5 * (misfit + np.log(determinant)),
    )


def _masses_covariance(prior: Prior) -> Numbers:
    """Of dry mass and free water: both grow with the fresh mass, and share it differently."""
    by_mass = np.array([prior.dry_share, 1 - prior.dry_share]) * prior.fresh_sd_g
    by_share = np.array([1.0, -1.0]) * prior.fresh_g * prior.dry_share_sd
    return np.outer(by_mass, by_mass) + np.outer(by_share, by_share)


def _dry_days(rates: Numbers, dry_g: Numbers, free_g: Numbers) -> Numbers:
    """Days from the mould until all three of the gate's limits are met, by the curve's slow end."""
    steady_g = STEADY_PERCENT_PER_DAY / 100 * dry_g / np.expm1(rates)
    limit_g = np.minimum(EXCESS_SHARE * dry_g, (1 - FREE_WATER_GONE) * free_g)
    limit_g = np.minimum(limit_g, steady_g)
    days = (family().log_scale[:, None] + np.log(free_g / limit_g)) / rates
    return np.clip(days, 1.0, MOST_DAYS)


def _rates(days: float) -> Numbers:
    """Rates per day round the one that takes an exponential of an ordinary mix so many days."""
    return _rate_of(round(days, 2)) * np.exp(np.linspace(*_RATES_SPAN, _RATES))


@cache
def _rate_of(days: float) -> float:
    low, high = 1e-3, 20.0
    for _ in range(40):
        middle = (low * high) ** 0.5
        dry_g, free_g = np.full((1, 1), 70.0), np.full((1, 1), 30.0)
        rate = np.array([middle])
        steady_g = STEADY_PERCENT_PER_DAY / 100 * dry_g / np.expm1(rate)
        needed = float((np.log(free_g / np.minimum(EXCESS_SHARE * dry_g, steady_g)) / rate).item())
        low, high = (middle, high) if needed > days else (low, middle)
    return float((low * high) ** 0.5)


def _interval(dry_days: Numbers, weight: Numbers, last_day: float) -> tuple[float, float, float]:
    """Low, mean and high of the days until dry, each widened by how the room may be from now on."""
    steps = np.concatenate([_LATER_STEPS, -_LATER_STEPS[::-1]])
    believed = weight > weight.max() * 1e-6
    days, weight = dry_days[believed][:, None], weight[believed][:, None]
    days = days + _END_LATER_DAYS
    flat = (days + steps * np.hypot(_ROOM_LOG_SD * (days - last_day), _END_SD_DAYS)).ravel()
    order = np.argsort(flat)
    reached = np.cumsum(np.broadcast_to(weight, (len(weight), len(steps))).ravel()[order])
    reached /= reached[-1]
    early, late = (float(flat[order][np.searchsorted(reached, q)]) for q in (0.1, 0.9))
    likely = float((days * weight).sum() / weight.sum())
    return early, min(max(likely, early), late), late
