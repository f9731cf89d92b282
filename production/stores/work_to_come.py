"""What the work to come takes from the stores, as the room that plans the work says it.

That room registers its source here, so that the stores import nothing of the rooms above them.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from production.stock.models import Material
from production.stores.needs import Work
from studio.accounts.models import Unit


@dataclass(frozen=True, slots=True)
class WorkToCome:
    """The planned work of a unit. `cut`: the materials (primary keys) that cuttings take as they are drawn."""

    work: Work
    cut: frozenset[int]
    days_off: frozenset[date]


WorkSource = Callable[[Unit, Sequence[Material], datetime], WorkToCome]
_sources: list[WorkSource] = []


def work_source(source: WorkSource) -> WorkSource:
    """Register the one that knows the work to come."""
    _sources.append(source)
    return source


def work_to_come(unit: Unit, materials: Sequence[Material], now: datetime) -> WorkToCome:
    """Return what is planned from `now` on, as far as it takes of these materials."""
    return _sources[-1](unit, materials, now)
