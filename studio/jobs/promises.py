"""The day that can be promised for a sitting not yet booked: told by the app that plans the bench."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from studio.accounts.models import Unit
from studio.limbs import Limb


@dataclass(frozen=True, slots=True)
class PromiseEstimate:
    """Home by `on` in nine cases of ten, by `likely_on` in half of them."""

    on: date
    likely_on: date


PromiseEstimator = Callable[[Unit, date, Sequence[Limb], datetime], PromiseEstimate | None]

_sources: list[PromiseEstimator] = []


def promise_estimator(source: PromiseEstimator) -> PromiseEstimator:
    """Register who knows; the last one registered is asked."""
    _sources.append(source)
    return source


def estimate_promise(
    unit: Unit, sitting_on: date, limbs: Sequence[Limb], now: datetime
) -> PromiseEstimate | None:
    """What can be promised for a sitting on that day with these limbs; None where nobody can say."""
    return _sources[-1](unit, sitting_on, limbs, now) if _sources and limbs else None
