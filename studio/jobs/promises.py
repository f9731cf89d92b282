"""The day that can be promised for a sitting not yet booked: told by the app that plans the bench."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from studio.accounts.models import Unit
from studio.limbs import Limb


@dataclass(frozen=True, slots=True)
class Offer:
    """Home by `on` in nine cases of ten, by `likely_on` in half of them."""

    on: date
    likely_on: date


OfferSource = Callable[[Unit, date, Sequence[Limb], datetime], Offer | None]

_sources: list[OfferSource] = []


def offer_source(source: OfferSource) -> OfferSource:
    """Register who knows; the last one registered is asked."""
    _sources.append(source)
    return source


def offer(unit: Unit, sitting_on: date, limbs: Sequence[Limb], now: datetime) -> Offer | None:
    """What can be promised for a sitting on that day with these limbs; None where nobody can say."""
    return _sources[-1](unit, sitting_on, limbs, now) if _sources and limbs else None
