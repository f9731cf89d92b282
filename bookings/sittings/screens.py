"""The screens of a sitting: one question each, and their order."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from bookings.consent import wording
from bookings.sittings.models import ClayPrint, Sitting
from studio.accounts.models import Unit
from studio.limbs import Limb

Kind = Literal["cautions", "consent", "limb", "summary", "over"]

# NHS (on the floor, held), UKHSA (48 hours; chickenpox 5 days), HSE and NSEAD on plaster and skin,
# EN 71-3 for clay; that a parent is present and when to stop are common practice, no source.
CAUTIONS = (
    "A parent is in the room the whole time, and holds the child.",
    "On the floor, never on a table or a bed.",
    "Stop when the child is distressed. There is another day.",
    "Ask about eczema, sore skin and allergies. Stop when the skin turns red.",
    "48 hours clear of sickness; chickenpox at least 5 days old and crusted over. Else another day.",
    "Clay that touches the child is sold to EN 71-3. Wipe hands and feet at once.",
    "Plaster stays shut while the child is near: it heats as it sets, and it is alkaline.",
    "Nothing small within the child’s reach.",
)

# Their ids, in the same order, as sent by a tablet.
CAUTION_NAMES = ("parent", "floor", "distress", "skin", "sickness", "clay", "plaster", "small")


@dataclass(frozen=True, slots=True)
class Screen:
    """One screen: its name `at`, and the names of the screens before (`back`) and after (`onward`)."""

    kind: Kind
    at: str
    back: str
    onward: str
    purpose: str = ""
    clay_print: ClayPrint | None = None
    number: int = 0
    of: int = 0


def named_cautions() -> dict[str, str]:
    """The cautions by their ids."""
    return dict(zip(CAUTION_NAMES, CAUTIONS, strict=True))


def prints_of(sitting: Sitting) -> list[ClayPrint]:
    """Load the prints of a sitting in order: the eldest child first, limbs in the unit's order. One query."""
    return sort_prints(sitting.prints.on_the_job().with_child(), sitting.unit)


def sort_prints(clay_prints: Iterable[ClayPrint], unit: Unit) -> list[ClayPrint]:
    """Sort prints: the eldest child first, the limbs of a child in the unit's order."""
    place = {limb: number for number, limb in enumerate(unit.limbs)}
    return sorted(
        clay_prints,
        key=lambda each: (
            each.piece.child.born_on,
            each.piece.child_id,
            place[Limb(each.piece.limb)],
            each.pk,
        ),
    )


def first_open_screen(sitting: Sitting, clay_prints: Sequence[ClayPrint]) -> str:
    """Name of the screen to open: the cautions, then the first limb without an answer, then the summary."""
    if sitting.state != Sitting.State.PLANNED:
        return "over"
    if not any(each.answered for each in clay_prints):
        return "cautions"
    return next((str(each.pk) for each in clay_prints if not each.settled), "summary")


def screen(sitting: Sitting, clay_prints: Sequence[ClayPrint], at: str) -> Screen | None:
    """Build the screen `at` (empty: the first open one); None if there is no such screen."""
    if sitting.state != Sitting.State.PLANNED:
        return Screen("over", "over", "", "")
    way = ["cautions", *wording.WORDINGS, *(str(each.pk) for each in clay_prints), "summary"]
    at = at or first_open_screen(sitting, clay_prints)
    if at not in way:
        return None
    place = way.index(at)
    back = way[place - 1] if place else ""
    onward = way[place + 1] if place + 1 < len(way) else ""
    if at in wording.WORDINGS:
        return Screen("consent", at, back, onward, purpose=at)
    if at in ("cautions", "summary"):
        return Screen(at, at, back, onward)  # type: ignore[arg-type]
    number = next(n for n, each in enumerate(clay_prints) if str(each.pk) == at)
    return Screen(
        "limb",
        at,
        back,
        onward,
        clay_print=clay_prints[number],
        number=number + 1,
        of=len(clay_prints),
    )


def next_screen(clay_prints: Sequence[ClayPrint], answered: ClayPrint) -> str:
    """Name of the screen after a limb: the next open limb, then those passed over, else the summary."""
    place = next(n for n, each in enumerate(clay_prints) if each.pk == answered.pk)
    row = (*clay_prints[place + 1 :], *clay_prints[:place])
    return next((str(each.pk) for each in row if not each.settled), "summary")
