from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from bookings.sittings import ages
from bookings.sittings.models import ClayPrint
from studio import units
from studio.accounts.models import Unit
from studio.families.models import Child


def advise(unit: Unit, child: Child, on: date) -> ages.Advice:
    """Advise on a child's age on a day, by the unit's own limits."""
    return ages.advise(
        child.born_on,
        child.due_on,
        on,
        earliest_weeks=unit.earliest_weeks,
        best_months=unit.best_months,
    )


@dataclass(frozen=True, slots=True)
class Sitter:
    """A child at a sitting: its age on the day and its limbs."""

    first_name: str
    age: str
    limbs: str


def sitters(clay_prints: Iterable[ClayPrint], on: date) -> list[Sitter]:
    """List the children of a sitting, the eldest first, with the limbs that are still part of the job."""
    limbs: dict[Child, list[str]] = {}
    for clay_print in clay_prints:
        if not clay_print.piece.left_off_at:
            named = limbs.setdefault(clay_print.piece.child, [])
            named.append(clay_print.piece.get_limb_display())
    return [
        Sitter(child.first_name, units.age(child.born_on, on), ", ".join(named))
        for child, named in sorted(limbs.items(), key=lambda item: item[0].born_on)
    ]
