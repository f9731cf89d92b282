"""The day that can be promised for a sitting not yet booked; production registers the estimator."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from studio.accounts.models import Unit
from studio.limbs import Limb


@dataclass(frozen=True, slots=True)
class PromiseEstimate:
    """The piece is handed over by `on` with 90 % probability, by `likely_on` with 50 %."""

    on: date
    likely_on: date


PromiseEstimator = Callable[[Unit, date, Sequence[Limb], datetime], PromiseEstimate | None]

_sources: list[PromiseEstimator] = []


def promise_estimator(source: PromiseEstimator) -> PromiseEstimator:
    """Register the function that estimates a promise; the last one registered counts."""
    _sources.append(source)
    return source


def estimate_promise(
    unit: Unit, sitting_on: date, limbs: Sequence[Limb], now: datetime
) -> PromiseEstimate | None:
    """Estimate the promise for a sitting on a day with these limbs; None if it cannot be estimated."""
    return _sources[-1](unit, sitting_on, limbs, now) if _sources and limbs else None
