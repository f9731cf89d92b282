"""What the work itself takes from the stores: each function runs inside the action that does the work.

A studio that keeps no such material writes nothing. The bench is never held up by its books: what is
used beyond them is written down as found, and asks to be counted.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID, uuid5

from bookings.sittings.models import Impression
from production.stock import valuation
from production.stock.models import Material, StockMove
from production.stock.moves import Note, What, lock_materials, record_move, withdraw
from studio import money
from studio.accounts.models import Unit, User
from studio.jobs.models import Job

if TYPE_CHECKING:
    from production.casts.models import Pour


UsedAt = Material.UsedAt


def use_for_pour(
    poured: "Pour", grams: Sequence[tuple[Job, float]], *, by: User, at: datetime, key: UUID
) -> None:
    """The plaster of a pour, shared among the jobs of its pieces by what each piece needs.

    `grams`: one entry a piece, its job and the plaster it is likely to take.
    """
    materials = poured.unit.materials.used_at(UsedAt.POUR)
    own = materials.filter(plaster=poured.plaster_id) if poured.plaster_id else materials.none()
    chosen = own or materials.filter(plaster=None)
    weights: dict[Job, int] = {}
    for job, plaster_g in grams:
        weights[job] = weights.get(job, 0) + max(round(1000 * plaster_g), 1)
    for material in lock_materials(poured.unit, chosen).values():
        share_use(material, poured.plaster_g, weights, note=Note(by, at, key, pour_id=poured.pk))


def share_use(material: Material, quantity: int, weights: Mapping[Job, int], *, note: Note) -> None:
    """What several jobs took together, each its share by these weights, to the last unit.

    The material is held by the caller.
    """
    shares = money.share(quantity, list(weights.values()))
    for job, share in zip(weights, shares, strict=True):
        if share:
            its_note = replace(note.keyed(f"{material.pk} {job.reference}"), job=job)
            withdraw(material, share, what=What.USED, note=its_note, beyond=True)


def use_for_prints(
    unit: Unit, impressions: Iterable[Impression], *, by: User, at: datetime, key: UUID
) -> None:
    """What each print takes: the clay, and whatever else is used up once a print."""
    prints = list(impressions)
    for material in lock_materials(unit, unit.materials.used_at(UsedAt.PRINT)).values():
        for each in prints:
            its_key = uuid5(key, f"{material.pk} print {each.pk}")
            note = Note(by, at, its_key, "", each.piece.job, impression=each)
            withdraw(material, material.used_each, what=What.USED, note=note, beyond=True)


def return_from_prints(
    unit: Unit,
    impressions: Iterable[Impression],
    *,
    whole: bool = False,
    by: User | None,
    at: datetime,
    key: UUID,
) -> None:
    """The clay of prints goes back into its bin, less what stuck; all of it where `whole`.

    What went back already does not go back twice.
    """
    prints = {each.pk: each for each in impressions}
    moves = unit.stock_moves.used_or_returned().filter(impression__in=prints)
    moves = moves.select_related("lot__material").order_by("pk")
    held = lock_materials(unit, (each.lot.material for each in moves))
    used: dict[tuple[int, int], list[StockMove]] = {}
    for each in moves.all():
        used.setdefault((each.impression_id or 0, each.lot_id), []).append(each)
    for (impression_id, lot_id), lines in used.items():
        lot = lines[0].lot
        lot.refresh_from_db(fields=["left", "left_minor"])
        percent = 100 if whole else held[lot.material_id].returns_percent
        impression = prints[impression_id]
        note = Note(
            by,
            at,
            uuid5(key, f"{lot_id} back from {impression_id}"),
            job=impression.piece.job,
            impression=impression,
        )
        _give_back(lines, percent, note)


def _give_back(lines: Sequence[StockMove], percent: int, note: Note) -> None:
    """Of one print and one lot: `percent` of what it took, at what it was worth."""
    lot = lines[0].lot
    since = [each for each in lines if each.what == What.USED][-1]
    used, worth_minor = -since.quantity, -since.value_minor
    after = [each for each in lines if each.what == What.RETURNED and each.pk > since.pk]
    returned = sum(each.quantity for each in after)
    quantity = valuation.reusable_quantity(used, percent, returned)
    if quantity:
        value_minor = valuation.value_of_part(
            quantity, used - returned, worth_minor - sum(each.value_minor for each in after)
        )
        record_move(lot, what=What.RETURNED, quantity=quantity, value_minor=value_minor, note=note)


def use_for_frame(job: Job, *, glazed: bool, by: User, at: datetime, key: UUID) -> None:
    """What a frame takes, once a job: what is cut anew is written down by hand."""
    moments = [UsedAt.FRAME, UsedAt.GLAZED] if glazed else [UsedAt.FRAME]
    _takes_once(job, moments, by=by, at=at, key=key)


def use_for_packing(job: Job, *, by: User, at: datetime, key: UUID) -> None:
    """What a finished piece is packed in."""
    _takes_once(job, [UsedAt.HOME], by=by, at=at, key=key)


def _takes_once(job: Job, moments: Sequence[UsedAt], *, by: User, at: datetime, key: UUID) -> None:
    wanted = job.unit.materials.used_at(*moments)
    taken = set(job.stock_moves.filter(what=What.USED).values_list("lot__material_id", flat=True))
    for material in lock_materials(job.unit, wanted).values():
        if material.pk not in taken:
            note = Note(by, at, uuid5(key, f"{material.pk} {job.reference}"), job=job)
            withdraw(material, material.used_each, what=What.USED, note=note, beyond=True)
