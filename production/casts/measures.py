"""Sizes of children's hands and feet, by the published table and the unit's own measured prints."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date
from typing import TYPE_CHECKING, cast

from django.db.models import Exists, OuterRef
from django.utils import timezone

from bookings.sittings import ages
from bookings.sittings.models import ClayPrint, Sitting
from production.casts import limb_sizes
from production.casts.mixes import live_print, sitting_day
from studio.accounts.models import Unit
from studio.jobs.models import Piece
from studio.limbs import Limb

if TYPE_CHECKING:
    from production.casts.limb_sizes import Calibration, LengthCheck, Size


# The newest tell enough, and a page stays quick in the tenth year.
MOST_PRINTS = 200


@dataclass(frozen=True, slots=True)
class PieceSize:
    """The limb of a piece: expected and measured size, and whether the measured one is plausible."""

    piece: Piece
    kind: "limb_sizes.Limb"
    length: "Size"
    breadth: "Size"
    measured_mm: int | None
    judged: "LengthCheck | None"

    @property
    def to_frame_mm(self) -> float:
        """The length in mm to plan a frame with: as measured, else the upper end of the expected band."""
        return self.measured_mm or self.length.high_mm


def own_calibrations(unit: Unit) -> Mapping[str, "Calibration"]:
    """Return how the unit's measured prints differ from the published table, for "hand" and "foot". One query."""
    published = dict.fromkeys(("hand", "foot"), limb_sizes.PUBLISHED)
    return published | {
        row.kind: limb_sizes.Calibration(row.children, row.shift_sd, row.spread)
        for row in unit.limb_calibrations.all()
    }


def store_calibrations(unit: Unit) -> None:
    """Calibrate the table to the unit's newest measured prints, and store it. Five queries."""
    ours = Sitting.objects.filter(pk=OuterRef("sitting"), unit=unit)
    # Asked for each print in turn, newest first: a join would sort all that the unit ever measured.
    prints = ClayPrint.objects.filter(Exists(ours), outcome="taken", length_mm__isnull=False)
    child = "piece__child"
    rows = prints.order_by("-taken_at", "-pk").values_list(
        *("taken_at", "length_mm", "piece__limb", child, f"{child}__born_on", f"{child}__due_on")
    )
    measured: dict[str, list[limb_sizes.MeasuredLimb]] = {"hand": [], "foot": []}
    for taken_at, length_mm, limb, child_pk, born_on, due_on in rows[:MOST_PRINTS]:
        months = _months(born_on, due_on, timezone.localdate(taken_at))
        measured[Limb(limb).kind].append(
            limb_sizes.MeasuredLimb(child_pk, months, float(length_mm))
        )
    for kind, of in measured.items():
        found = limb_sizes.calibrate(cast("limb_sizes.Limb", kind), of)
        unit.limb_calibrations.update_or_create(kind=kind, defaults=asdict(found))


def piece_size(piece: Piece, today: date, own: Mapping[str, "Calibration"]) -> PieceSize:
    """Return the size of a piece's limb on the day of its sitting. No query if child and prints are loaded."""
    kind = cast("limb_sizes.Limb", Limb(piece.limb).kind)
    months = age_months(piece, sitting_day(piece, today))
    found = live_print(piece)
    measured_mm = found.length_mm if found else None
    learnt = own.get(kind, limb_sizes.PUBLISHED)
    return PieceSize(
        piece=piece,
        kind=kind,
        length=limb_sizes.expected_length(kind, months, learnt),
        breadth=limb_sizes.expected_breadth(kind, months),
        measured_mm=measured_mm,
        judged=limb_sizes.check_length(kind, months, measured_mm, learnt) if measured_mm else None,
    )


def age_months(piece: Piece, on: date) -> float:
    """Return the corrected age of the piece's child on a day, in the months of the size table."""
    return _months(piece.child.born_on, piece.child.due_on, on)


def _months(born_on: date, due_on: date | None, on: date) -> float:
    return limb_sizes.age_in_months(max(ages.corrected_days(born_on, due_on, on), 0))
