"""How much plaster and water the waiting pieces will take, from the children's ages."""

from collections.abc import Iterable
from datetime import date
from typing import TYPE_CHECKING, cast

from bookings import ages
from production import plaster, sizes
from production.queries.pieces import local_day
from studio.models import Limb, Piece

if TYPE_CHECKING:
    from bookings.models import Impression


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
