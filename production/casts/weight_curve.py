"""Drawing of a cast's weights: the weighings, the path to dry, and the days on which it may be dry."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import exp

from django.utils import timezone

from production.casts.forecasts import DryInterval, stored_interval
from production.casts.models import Cast
from production.drying.by_weight import Weighed
from studio import units

WIDTH, HEIGHT = 320.0, 132.0

LEFT, RIGHT, TOP, BOTTOM = 8.0, 8.0, 10.0, 24.0

STEPS = 24


@dataclass(frozen=True, slots=True)
class Dot:
    x: float
    y: float
    words: str


@dataclass(frozen=True, slots=True)
class WeightCurve:
    """Coordinates of a 320 × 132 drawing, and the same in words.

    `ahead`: the path after the last weighing; the band covers the days on which it may be dry.
    """

    dots: tuple[Dot, ...]
    weighed: str
    ahead: str
    band_x: float
    band_width: float
    likely_x: float
    dry_y: float
    first_on: date
    last_on: date
    words: str


def weight_curve(cast: Cast, weighings: Sequence[Weighed]) -> WeightCurve | None:
    """Draw the weights of a cast; None without a weighing or a stored forecast. No query."""
    kept = stored_interval(cast)
    if not weighings or kept is None or cast.demoulded_at is None:
        return None
    if not (cast.dry_early_at and cast.dry_likely_at and cast.dry_late_at):
        return None
    dry_g = cast.foreseen_dry_g or weighings[-1].mass_g
    begins = min(cast.demoulded_at, weighings[0].at)
    ends = max(cast.dry_late_at, weighings[-1].at) + timedelta(hours=12)
    most_g = max(each.mass_g for each in weighings)
    least_g = min(dry_g, *(each.mass_g for each in weighings))
    sheet = _Sheet(begins, ends, least_g, max(most_g, least_g + 1))
    dots = tuple(
        Dot(
            sheet.x(each.at),
            sheet.y(each.mass_g),
            f"{units.day(each.at.date())}: {each.mass_g:g} g",
        )
        for each in weighings
    )
    early_x, late_x = sheet.x(cast.dry_early_at), sheet.x(cast.dry_late_at)
    return WeightCurve(
        dots=dots,
        weighed=_path((dot.x, dot.y) for dot in dots),
        ahead=_path(_ahead(sheet, weighings[-1], dry_g, cast.dry_likely_at)),
        band_x=early_x,
        band_width=max(2.0, round(late_x - early_x, 1)),
        likely_x=sheet.x(cast.dry_likely_at),
        dry_y=sheet.y(dry_g),
        first_on=timezone.localtime(begins).date(),
        last_on=timezone.localtime(ends).date(),
        words=_words(weighings, dry_g, kept),
    )


@dataclass(frozen=True, slots=True)
class _Sheet:
    begins: datetime
    ends: datetime
    least_g: float
    most_g: float

    def x(self, at: datetime) -> float:
        along = (at - self.begins) / (self.ends - self.begins)
        return round(LEFT + along * (WIDTH - LEFT - RIGHT), 1)

    def y(self, mass_g: float) -> float:
        up = (mass_g - self.least_g) / (self.most_g - self.least_g)
        return round(HEIGHT - BOTTOM - up * (HEIGHT - TOP - BOTTOM), 1)


def _ahead(
    sheet: _Sheet, last: Weighed, dry_g: float, likely_at: datetime
) -> list[tuple[float, float]]:
    """Points of an exponential with 1 % of its water left on the likely day; for looks, not a forecast."""
    if likely_at <= last.at or last.mass_g <= dry_g:
        return []
    whole = likely_at - last.at
    points = []
    for step in range(STEPS + 1):
        share = exp(-4.6 * step / STEPS)
        at = last.at + whole * (step / STEPS)
        points.append((sheet.x(at), sheet.y(dry_g + (last.mass_g - dry_g) * share)))
    return points


def _path(points: Iterable[tuple[float, float]]) -> str:
    return " ".join(f"{x:g},{y:g}" for x, y in points)


def _words(weighings: Sequence[Weighed], dry_g: float, kept: DryInterval) -> str:
    first, last = weighings[0], weighings[-1]
    return (
        f"From {first.mass_g:g} g on {units.day(first.at.date())} to {last.mass_g:g} g on {units.day(last.at.date())}; "
        f"about {dry_g:.0f} g when dry, about {units.day(kept.likely_on)}."
    )
