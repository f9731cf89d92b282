"""Actions of the stores."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID, uuid5

from django.db import transaction

from production.stock import valuation
from production.stock.catalogue import USUAL_MATERIALS
from production.stock.models import Lot, Material, Purchase, StockMove
from production.stock.moves import (
    Note,
    What,
    add_found,
    is_recorded,
    lock_materials,
    record_move,
    revalue,
    withdraw,
    withdraw_from_lot,
)
from studio.accounts.actions import lock_unit
from studio.accounts.models import Unit, User
from studio.jobs.job_action import refuse_closed, unit_action
from studio.jobs.models import Job
from studio.stages import ActionRefused, Stage
from studio.versions import save_edited

_GONE = (What.SCRAPPED, What.SENT_BACK)


@dataclass(frozen=True, slots=True)
class Counted:
    """The counted quantity of a material, and the stock shown when the page was made (base units)."""

    material: Material
    quantity: int
    seen: int


@dataclass(frozen=True, slots=True)
class Difference:
    """The correction by a count, positive if more was found; `value_minor` has the same sign."""

    material: Material
    quantity: int
    value_minor: int


@transaction.atomic
def add_material(unit: Unit, *, facts: Mapping[str, Any]) -> Material:
    """Add a material. Raises ActionRefused if another has its name or is used for the same pours."""
    lock_unit(unit)
    _refuse_twin(unit, facts)
    return unit.materials.create(**facts)


@transaction.atomic
def add_usual_materials(unit: Unit) -> list[Material]:
    """Add the usual materials of a cast studio that are missing; return the added ones."""
    lock_unit(unit)
    return [unit.materials.create(**facts) for facts in USUAL_MATERIALS if not _twin(unit, facts)]


@transaction.atomic
def edit_material(material: Material, *, facts: Mapping[str, Any], seen_version: int) -> None:
    """Change a material.

    Raises EditedMeanwhile; ActionRefused for another base unit once there is a lot, or if another material has its
    name or is used for the same pours.
    """
    lock_unit(material.unit)
    _refuse_twin(material.unit, facts, but=material)
    measure = facts.get("measure", material.measure)
    if measure != material.measure and material.lots.exists():
        raise ActionRefused(
            f"{material} is in the books in {material.get_measure_display()} already: "
            "add a new material instead."
        )
    save_edited(material, facts, seen_version=seen_version)


@transaction.atomic
def retire_material(material: Material, *, at: datetime) -> Material:
    """Retire a material; its movements stay. Raises ActionRefused while any is in stock or on its way."""
    held = _held(material)
    left = sum(held.lots.values_list("left", flat=True))
    if left:
        raise ActionRefused(
            f"The books still hold {held.say(left)} of {held}: use it up, or write it off first."
        )
    if held.purchases.on_their_way().exists():
        raise ActionRefused(f"Some {held} is on its way: receive it, or wait for it no longer.")
    held.retired_at = held.retired_at or at
    held.save(update_fields=["retired_at"])
    return held


@transaction.atomic
def bring_back_material(material: Material) -> Material:
    """Use a retired material again. Raises ActionRefused if another has taken its place."""
    lock_unit(material.unit)
    held = _held(material)
    facts = {"name": held.name, "used_at": held.used_at, "plaster": held.plaster}
    _refuse_twin(held.unit, facts, but=held)
    held.retired_at = None
    held.save(update_fields=["retired_at"])
    return held


@unit_action("stock_moves", lambda line: line.lot)
def receive(
    material: Material,
    *,
    quantity: int,
    cost_minor: int | None = None,
    received_on: date,
    best_before: date | None = None,
    label: str = "",
    purchase: Purchase | None = None,
    by: User,
    at: datetime,
    key: UUID,
) -> Lot:
    """Add a delivery to stock as a lot of its own; close its purchase once that has come in full.

    `quantity` is in base units. Without `cost_minor` the price is that of the purchase, else of the newest lot.
    Raises ActionRefused for no quantity, a purchase of another material, or a retired material.
    """
    held = _held(material)
    _refuse_retired(held)
    if quantity <= 0:
        raise ActionRefused("Write how much came.")
    purchase = _lock_purchase(purchase, held) if purchase else None
    if cost_minor is None:
        cost_minor = _likely_cost(held, quantity, purchase)
    lot = Lot.objects.create(
        material=held,
        purchase=purchase,
        label=label.strip(),
        quantity=quantity,
        cost_minor=cost_minor,
        received_on=received_on,
        best_before=best_before,
    )
    note = Note(by, at, key, lot.label)
    record_move(lot, what=What.RECEIVED, quantity=quantity, value_minor=cost_minor, note=note)
    if purchase:
        _arrive(purchase, quantity, at)
    return lot


@unit_action("stock_moves", lambda line: [line])
def use_by_hand(
    material: Material,
    *,
    quantity: int,
    job: Job | None = None,
    why: str = "",
    by: User,
    at: datetime,
    key: UUID,
) -> list[StockMove]:
    """Record a use that no step of the bench records, for a job or for the studio.

    Raises ActionRefused for more than the stock; MoveRefused for a job that was called off.
    """
    held = _held(material)
    if quantity <= 0:
        raise ActionRefused("Write how much was used.")
    if job and job.stage == Stage.CALLED_OFF:
        refuse_closed(job)
    note = Note(by, at, key, why.strip(), job)
    return withdraw(held, quantity, what=What.USED, note=note)


@unit_action("stock_moves")
def write_off(
    lot: Lot,
    *,
    quantity: int,
    what: str = What.SCRAPPED,
    why: str,
    by: User,
    at: datetime,
    key: UUID,
) -> StockMove:
    """Write off a quantity (base units) of a lot; `what` is `What.SCRAPPED` or `What.SENT_BACK`.

    Raises ActionRefused without a reason or for more than the lot holds.
    """
    held = _held_lot(lot)
    if what not in _GONE:
        raise ActionRefused("Say whether it was thrown away or sent back.")
    if quantity <= 0:
        raise ActionRefused("Write how much of it goes.")
    note = Note(by, at, key, _the_reason(why, "Write why it goes."))
    return withdraw_from_lot(held, quantity, what=What(what), note=note)


@unit_action("stock_moves")
def adjust_lot(
    lot: Lot, *, left: int, seen: int, why: str, by: User, at: datetime, key: UUID
) -> StockMove:
    """Correct the stock of one lot to `left` (base units); `seen` is the stock that the page showed.

    Raises ActionRefused without a reason or a difference, or if the stock has changed since.
    """
    held = _held_lot(lot)
    material = held.material
    if held.left != seen:
        raise ActionRefused(
            f"The lot holds {material.say(held.left)} now, not {material.say(seen)}: "
            "somebody used of it since. Look again."
        )
    note = Note(by, at, key, _the_reason(why, "Write what was wrong in the books."))
    change = left - held.left
    if left < 0 or not change:
        raise ActionRefused("Write what is really there, if it differs from the books.")
    if change < 0:
        return withdraw_from_lot(held, -change, what=What.ADJUSTED, note=note)
    value_minor = valuation.value_at_lot_price(change, held.quantity, held.cost_minor)
    return record_move(
        held, what=What.ADJUSTED, quantity=change, value_minor=value_minor, note=note
    )


@transaction.atomic
def correct_cost(
    lot: Lot, *, cost_minor: int, seen_minor: int, why: str, by: User, at: datetime, key: UUID
) -> Lot:
    """Correct the cost of a lot; remaining stock and jobs bear their shares of the difference.

    Raises ActionRefused without a reason or a difference, or if the cost has changed since.
    """
    held = _held_lot(lot)
    if is_recorded(held.material.unit, key):
        return held
    if held.cost_minor != seen_minor:
        raise ActionRefused("Somebody corrected the cost of this lot since. Look again.")
    if cost_minor == held.cost_minor:
        raise ActionRefused("That is what the books say already.")
    note = Note(by, at, key, _the_reason(why, "Write where the other cost comes from."))
    revalue(held, cost_minor, note=note)
    return held


@transaction.atomic
def count_stock(
    unit: Unit, *, counts: Iterable[Counted], by: User, at: datetime, key: UUID
) -> list[Difference]:
    """Record a stocktake, materials without a difference included: all of it or, on any conflict, nothing.

    Raises ActionRefused naming each material whose stock has changed since the page was made.
    """
    said = {count.material.pk: count for count in counts}
    held = lock_materials(unit, [count.material for count in said.values()])
    wanted = [pk for pk in held if not is_recorded(unit, uuid5(key, f"count {pk}"))]
    stocks = {pk: sum(held[pk].lots.values_list("left", flat=True)) for pk in wanted}
    if moved := [held[pk] for pk in wanted if stocks[pk] != said[pk].seen]:
        raise ActionRefused(
            *(f"{each}: something was used or came in since. Count it again." for each in moved)
        )
    return [
        _count(held[pk], said[pk].quantity - stocks[pk], Note(by, at, uuid5(key, f"count {pk}")))
        for pk in wanted
    ]


@transaction.atomic
def order_material(
    material: Material,
    *,
    quantity: int,
    cost_minor: int,
    ordered_on: date,
    expected_on: date,
    by: User,
    key: UUID,
) -> Purchase:
    """Record a purchase and its expected delivery. The same key twice is one purchase.

    Raises ActionRefused for no quantity, a delivery before the order, or a retired material.
    """
    held = _held(material)
    if earlier := held.purchases.filter(key=key).first():
        return earlier
    _refuse_retired(held)
    if quantity <= 0:
        raise ActionRefused("Write how much was ordered.")
    if expected_on < ordered_on:
        raise ActionRefused("It cannot come before it was ordered: check both days.")
    return held.purchases.create(
        quantity=quantity,
        cost_minor=cost_minor,
        ordered_on=ordered_on,
        expected_on=expected_on,
        by=by,
        key=key,
    )


@transaction.atomic
def close_purchase(purchase: Purchase, *, why: str, at: datetime) -> Purchase:
    """Close a purchase of which the rest will not come. Raises ActionRefused without a reason."""
    held = Purchase.objects.select_for_update().get(pk=purchase.pk)
    if held.closed_at is None:
        held.closed_at, held.closed_why = at, _the_reason(why, "Write why it does not come.")
        held.save(update_fields=["closed_at", "closed_why"])
    return held


def _twin(unit: Unit, facts: Mapping[str, Any], but: Material | None = None) -> str:
    """Say which other material conflicts with these facts; empty if none does."""
    others = unit.materials.kept()
    others = others.exclude(pk=but.pk) if but else others
    if others.filter(name=facts.get("name")).exists():
        return f"Another {facts['name']} stands in your stores: give one of them another name."
    poured = others.used_at(Material.UsedAt.POUR).filter(plaster=facts.get("plaster"))
    if facts.get("used_at") == Material.UsedAt.POUR and poured.exists():
        return f"{poured[0]} is taken for these pours now: change or retire that one first."
    return ""


def _refuse_twin(unit: Unit, facts: Mapping[str, Any], but: Material | None = None) -> None:
    if why := _twin(unit, facts, but):
        raise ActionRefused(why)


def _held(material: Material) -> Material:
    return Material.objects.select_for_update().get(pk=material.pk)


def _refuse_retired(material: Material) -> None:
    """Raise ActionRefused for a retired material, because no page would show its purchase or delivery."""
    if material.retired_at:
        raise ActionRefused(f"{material} is no longer used: use it again first.")


def _held_lot(lot: Lot) -> Lot:
    material = _held(lot.material)
    held = material.lots.get(pk=lot.pk)
    held.material = material
    return held


def _the_reason(why: str, sentence: str) -> str:
    if not why.strip():
        raise ActionRefused(sentence)
    return why.strip()


def _lock_purchase(purchase: Purchase, material: Material) -> Purchase:
    if purchase.material_id != material.pk:
        raise ActionRefused("This order is of another material.")
    return Purchase.objects.select_for_update().get(pk=purchase.pk)


def _likely_cost(material: Material, quantity: int, purchase: Purchase | None) -> int:
    if purchase:
        return valuation.value_at_lot_price(quantity, purchase.quantity, purchase.cost_minor)
    before = material.lots.oldest_first().last()
    return (
        valuation.value_at_lot_price(quantity, before.quantity, before.cost_minor) if before else 0
    )


def _arrive(purchase: Purchase, quantity: int, at: datetime) -> None:
    purchase.arrived += quantity
    if purchase.arrived >= purchase.quantity and purchase.closed_at is None:
        purchase.closed_at, purchase.closed_why = at, "It came in full."
    purchase.save(update_fields=["arrived", "closed_at", "closed_why"])


def _count(material: Material, change: int, note: Note) -> Difference:
    if change > 0:
        lot = add_found(material, change, what=What.COUNTED, note=note)
        return Difference(
            material, change, valuation.value_at_lot_price(change, lot.quantity, lot.cost_minor)
        )
    if change < 0:
        moves = withdraw(material, -change, what=What.COUNTED, note=note)
        return Difference(material, change, sum(each.value_minor for each in moves))
    if newest := material.lots.oldest_first().last():
        record_move(newest, what=What.COUNTED, quantity=0, value_minor=0, note=note)
    return Difference(material, 0, 0)
