"""Stock movements: the only module that writes them, together with their lots.

Call its functions inside an action's transaction, with the materials locked (`lock_materials`): after the unit and
the jobs, in the order of their primary keys, so that no two actions wait for each other.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import count
from uuid import UUID, uuid5

from django.utils import timezone

from bookings.sittings.models import ClayPrint
from production.stock import valuation
from production.stock.models import Lot, Material, StockMove
from studio import money
from studio.accounts.models import Unit, User
from studio.jobs.models import Job
from studio.stages import ActionRefused

What = StockMove.What


@dataclass(frozen=True, slots=True)
class Note:
    """Who recorded a movement, when, under which key, and for what."""

    by: User | None
    at: datetime
    key: UUID
    why: str = ""
    job: Job | None = None
    pour_id: int | None = None
    clay_print: ClayPrint | None = None

    def keyed(self, of: object) -> "Note":
        """Return the same note for another movement of the same action, with a key derived from `of`."""
        return replace(self, key=uuid5(self.key, str(of)))


def lock_materials(unit: Unit, materials: Iterable[Material]) -> dict[int, Material]:
    """Lock these materials of the unit and return them by primary key. One query."""
    chosen = {material.pk for material in materials}
    held = Material.objects.select_for_update().filter(unit=unit, pk__in=chosen).order_by("pk")
    return {material.pk: material for material in held}


def is_recorded(unit: Unit, key: UUID) -> bool:
    """Whether the unit has a movement with this key. One query."""
    return unit.stock_moves.filter(key=key).exists()


def record_move(lot: Lot, *, what: What, quantity: int, value_minor: int, note: Note) -> StockMove:
    """Record one movement of a lot and update what is left of it. The database refuses a negative rest."""
    lot.left += quantity
    lot.left_minor += value_minor
    lot.save(update_fields=["left", "left_minor"])
    return StockMove.objects.create(
        unit_id=lot.material.unit_id,
        lot=lot,
        what=what,
        quantity=quantity,
        value_minor=value_minor,
        job=note.job,
        pour_id=note.pour_id,
        clay_print=note.clay_print,
        why=note.why[:200],
        by=note.by,
        at=note.at,
        key=note.key,
    )


def withdraw(
    material: Material, quantity: int, *, what: What, note: Note, beyond: bool = False
) -> list[StockMove]:
    """Withdraw a quantity from the lots of a locked material, oldest first; the first movement has the note's key.

    With `beyond` a quantity that the books lack is first recorded as found, because it is really used; else it
    raises ActionRefused.
    """
    lots = list(material.lots.with_some_left().oldest_first())
    parts, short = valuation.first_in_first_out([lot.left for lot in lots], quantity)
    if short and not beyond:
        raise ActionRefused(
            f"The books hold {material.say(quantity - short)} of {material}, not "
            f"{material.say(quantity)}. Count it first if there is more."
        )
    if short:
        found = add_found(material, short, what=What.FOUND, note=_beyond(note))
        if found in lots:
            parts[lots.index(found)] += short
            lots[lots.index(found)] = found
        else:
            lots, parts = [*lots, found], [*parts, short]
    taken = [(lot, part) for lot, part in zip(lots, parts, strict=True) if part]
    return [
        withdraw_from_lot(lot, part, what=what, note=note.keyed(number) if number else note)
        for number, (lot, part) in enumerate(taken)
    ]


def _beyond(note: Note) -> Note:
    """Return the note for what was found: it belongs to no job, because the job bears the use."""
    why = f"Used beyond the books{f' for {note.job}' if note.job else ''}: count it."
    return replace(note.keyed("found"), why=why, job=None, clay_print=None)


def withdraw_from_lot(lot: Lot, quantity: int, *, what: What, note: Note) -> StockMove:
    """Withdraw a quantity from one lot. Raises ActionRefused if it holds less."""
    if quantity > lot.left:
        material = lot.material
        raise ActionRefused(
            f"This lot of {material} holds {material.say(lot.left)}, not {material.say(quantity)}."
        )
    value_minor = valuation.value_of_part(quantity, lot.left, lot.left_minor)
    return record_move(lot, what=what, quantity=-quantity, value_minor=-value_minor, note=note)


def add_found(material: Material, quantity: int, *, what: What, note: Note) -> Lot:
    """Record a quantity found beyond the books, in the newest lot at its price.

    Without a lot it starts one without cost.
    """
    lot = material.lots.oldest_first().last()
    if lot is None:
        lot = Lot.objects.create(
            material=material,
            label="was there before the books",
            quantity=quantity,
            cost_minor=0,
            received_on=timezone.localdate(note.at),
        )
    value_minor = valuation.value_at_lot_price(quantity, lot.quantity, lot.cost_minor)
    record_move(lot, what=what, quantity=quantity, value_minor=value_minor, note=note)
    return lot


def revalue(lot: Lot, cost_minor: int, *, note: Note) -> None:
    """Change the cost of a lot; the remaining stock and everything used of it bear their shares.

    Each job gets a movement without quantity, so that its cost is exact.
    """
    change = cost_minor - lot.cost_minor
    jobs, other = _where_it_went(lot)
    weights = [*jobs.values(), other]
    of_left = money.share(change, [lot.left, sum(weights)])[0]
    of_left = max(of_left, -lot.left_minor)
    gone = change - of_left
    lot.cost_minor = cost_minor
    lot.left_minor += of_left
    lot.save(update_fields=["cost_minor", "left_minor"])
    _note_value(lot, change, note)
    if gone:
        parts = money.share(gone, weights if sum(weights) else [*(0 for _ in jobs), 1])
        for (job_id, part), number in zip(
            zip([*jobs, None], parts, strict=True), count(1), strict=False
        ):
            if part:
                _note_value(lot, -part, note.keyed(number), job_id)


def _where_it_went(lot: Lot) -> tuple[dict[int, int], int]:
    """Return what each job used of a lot (net), and what else left it."""
    jobs: dict[int, int] = {}
    other = 0
    for job_id, what, quantity in lot.moves.values_list("job_id", "what", "quantity"):
        if job_id and what in (What.USED, What.RETURNED):
            jobs[job_id] = jobs.get(job_id, 0) - quantity
        elif quantity < 0:
            other -= quantity
    return jobs, other


def _note_value(lot: Lot, value_minor: int, note: Note, job_id: int | None = None) -> None:
    StockMove.objects.create(
        unit_id=lot.material.unit_id,
        lot=lot,
        what=What.ADJUSTED,
        quantity=0,
        value_minor=value_minor,
        job_id=job_id,
        why=note.why[:200],
        by=note.by,
        at=note.at,
        key=note.key,
    )
