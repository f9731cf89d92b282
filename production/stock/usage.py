"""Stock movements caused by work; call each function inside the action that does the work.

Without such materials nothing is recorded. A lack of stock never stops the work: the missing quantity is recorded as
found, and the material is marked to be counted.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID, uuid5

from bookings.sittings.models import ClayPrint
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
    """Withdraw the plaster of a pour, shared by the jobs of its pieces.

    `grams`: for each piece its job and predicted plaster in grams, as weights.
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
    """Withdraw a quantity of a locked material for several jobs, shared exactly by these weights."""
    shares = money.share(quantity, list(weights.values()))
    for job, share in zip(weights, shares, strict=True):
        if share:
            its_note = replace(note.keyed(f"{material.pk} {job.reference}"), job=job)
            withdraw(material, share, what=What.USED, note=its_note, beyond=True)


def use_for_prints(
    unit: Unit, clay_prints: Iterable[ClayPrint], *, by: User, at: datetime, key: UUID
) -> None:
    """Withdraw the clay, and whatever else is used for each print."""
    prints = list(clay_prints)
    for material in lock_materials(unit, unit.materials.used_at(UsedAt.PRINT)).values():
        for each in prints:
            its_key = uuid5(key, f"{material.pk} print {each.pk}")
            note = Note(by, at, its_key, "", each.piece.job, clay_print=each)
            withdraw(material, material.used_each, what=What.USED, note=note, beyond=True)


def return_from_prints(
    unit: Unit,
    clay_prints: Iterable[ClayPrint],
    *,
    whole: bool = False,
    by: User | None,
    at: datetime,
    key: UUID,
) -> None:
    """Return the reusable share of the clay of these prints to stock, or all of it if `whole`.

    What was returned already is not returned again.
    """
    prints = {each.pk: each for each in clay_prints}
    moves = unit.stock_moves.used_or_returned().filter(clay_print__in=prints)
    moves = moves.select_related("lot__material").order_by("pk")
    held = lock_materials(unit, (each.lot.material for each in moves))
    used: dict[tuple[int, int], list[StockMove]] = {}
    for each in moves.all():
        used.setdefault((each.clay_print_id or 0, each.lot_id), []).append(each)
    for (clay_print_id, lot_id), lines in used.items():
        lot = lines[0].lot
        lot.refresh_from_db(fields=["left", "left_minor"])
        percent = 100 if whole else held[lot.material_id].returns_percent
        clay_print = prints[clay_print_id]
        note = Note(
            by,
            at,
            uuid5(key, f"{lot_id} back from {clay_print_id}"),
            job=clay_print.piece.job,
            clay_print=clay_print,
        )
        _give_back(lines, percent, note)


def _give_back(lines: Sequence[StockMove], percent: int, note: Note) -> None:
    """Return `percent` of what one print used of one lot, at its value."""
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
    """Withdraw what a frame uses, once a job; what is cut again is recorded by hand."""
    moments = [UsedAt.FRAME, UsedAt.GLAZED] if glazed else [UsedAt.FRAME]
    _takes_once(job, moments, by=by, at=at, key=key)


def use_for_packing(job: Job, *, by: User, at: datetime, key: UUID) -> None:
    """Withdraw what a finished piece is packed in, once a job."""
    _takes_once(job, [UsedAt.HOME], by=by, at=at, key=key)


def _takes_once(job: Job, moments: Sequence[UsedAt], *, by: User, at: datetime, key: UUID) -> None:
    wanted = job.unit.materials.used_at(*moments)
    taken = set(job.stock_moves.filter(what=What.USED).values_list("lot__material_id", flat=True))
    for material in lock_materials(job.unit, wanted).values():
        if material.pk not in taken:
            note = Note(by, at, uuid5(key, f"{material.pk} {job.reference}"), job=job)
            withdraw(material, material.used_each, what=What.USED, note=note, beyond=True)
