"""How much plaster and water the waiting pieces will take, from the children's ages."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, cast

from bookings import ages
from production import plaster, sizes
from production.queries.pieces import local_day, pieces_to_pour
from studio.models import Limb, Piece, Unit

if TYPE_CHECKING:
    from bookings.models import Impression


@dataclass(frozen=True, slots=True)
class ToPour:
    """A print that waits in the clay, and the mix that it will take."""

    piece: Piece
    taken_at: datetime
    tray: str
    mix: plaster.Mix

    @property
    def key(self) -> str:
        """As a form sends it."""
        return str(self.piece.pk)


@dataclass(frozen=True, slots=True)
class ProposedPour:
    """All that waits, which of it is ticked (keys as strings), and the mix for that."""

    waiting: list[ToPour]
    ticked: frozenset[str]
    mix: plaster.Mix

    @property
    def amounts(self) -> dict[str, object]:
        """Whole grams for the form; empty where nothing is ticked."""
        if not self.ticked:
            return {}
        return {"plaster_g": round(self.mix.plaster_g), "water_g": round(self.mix.water_g)}


def live_print(piece: Piece) -> "Impression | None":
    """The piece's print, taken or still to be taken; no query where impressions are loaded."""
    return next((each for each in piece.impressions.all() if each.live), None)


def sat_on(piece: Piece, otherwise: date) -> date:
    """The local day of the piece's print, or of the sitting it is planned for."""
    found = live_print(piece)
    if found is None:
        return otherwise
    return local_day(found.taken_at or found.sitting.starts_at)


def mix_of(piece: Piece, consistency: int, today: date) -> plaster.Mix:
    """The mix for one piece, its slab sized for the largest limb of nine children in ten.

    No query where child, impressions and sittings are loaded.
    """
    on = sat_on(piece, today)
    days = ages.corrected_days(piece.child.born_on, piece.child.due_on, on)
    kind = cast("sizes.Limb", Limb(piece.limb).kind)
    months = sizes.months_of(max(days, 0))
    volume_ml = plaster.slab_for(
        sizes.expected_length(kind, months).high_mm, sizes.expected_breadth(kind, months).high_mm
    )
    return plaster.mix(volume_ml, consistency)


def predicted_mix(pieces: Iterable[Piece], consistency: int, today: date) -> plaster.Mix:
    """The mix for these pieces together, as constant in queries as their loading was."""
    return plaster.total(mix_of(piece, consistency, today) for piece in pieces)


def proposed_pour(unit: Unit, chosen: Iterable[str] | None, now: datetime) -> ProposedPour:
    """The mix for the chosen pieces, for all that wait where `chosen` is None. Three queries."""
    waiting = [
        ToPour(piece, found.taken_at, found.tray, mix_of(piece, unit.consistency, local_day(now)))
        for piece in pieces_to_pour(unit)
        if (found := live_print(piece)) and found.taken_at
    ]
    wanted = None if chosen is None else set(chosen)
    ticked = [each for each in waiting if wanted is None or each.key in wanted]
    return ProposedPour(
        waiting,
        frozenset(each.key for each in ticked),
        plaster.total(each.mix for each in ticked),
    )
