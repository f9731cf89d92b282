"""Planned work for the stock forecast.

The planning room registers its source here, so that the stores import no room above them.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from production.stock.models import Material
from production.stores.needs import Work
from studio.accounts.models import Unit


@dataclass(frozen=True, slots=True)
class WorkToCome:
    """Planned work and days off of a unit. `cut`: materials (primary keys) used frame by frame."""

    work: Work
    cut: frozenset[int]
    days_off: frozenset[date]


WorkSource = Callable[[Unit, Sequence[Material], datetime], WorkToCome]
_sources: list[WorkSource] = []


def work_source(source: WorkSource) -> WorkSource:
    """Register the function that returns the planned work."""
    _sources.append(source)
    return source


def work_to_come(unit: Unit, materials: Sequence[Material], now: datetime) -> WorkToCome:
    """Return the work planned from `now` on, with what it will use of these materials; asks the registered source."""
    return _sources[-1](unit, materials, now)
