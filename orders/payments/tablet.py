"""Entries of the tablet about orders: the chosen look, a deposit, and undoing a deposit."""

from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils import timezone

from bookings.tablet.entries import sitting_of
from orders.order.actions import choose_look
from orders.order.models import Order
from orders.payments import tablet_pack
from orders.payments.actions import reverse_payment, take_payment
from orders.payments.models import Payment
from orders.prices.models import Price
from studio import money
from studio.accounts.models import Unit, User
from studio.jobs.job_action import lock_job
from studio.stages import ActionRefused
from studio.tablet.entries import Answer, Entry, State, device_knows, entry_kind, is_superseded
from studio.tablet.models import TabletEntry
from studio.tablet.parsing import MAX_INTEGER, Facts

LONGEST_WORDS = 200


def _order_of(unit: Unit, entry: Entry) -> Order:
    """Return the order of the sitting's job, locked. Raises ActionRefused while it has no price."""
    job = lock_job(sitting_of(unit, entry).job)
    order = Order.objects.filter(job=job).select_related("unit", "price_list").first()
    if order is None:
        raise ActionRefused("This job has no price yet: price it at home, then try this again.")
    return order


def _look_label(unit: Unit, facts: dict[str, Any]) -> str:
    chosen = [facts.get("backing"), facts.get("finish")]
    labels = Price.objects.filter(price_list__unit=unit, pk__in=[pk for pk in chosen if pk])
    words = [facts.get("plate_words"), facts.get("layout_words")]
    return ", ".join([*(price.label for price in labels), *filter(None, words)]) or "nothing"


@entry_kind("look", words=_look_label, owner_only=True, choosable=True)
def look(unit: Unit, entry: Entry, *, by: User, at: datetime, key: UUID) -> Answer:
    """Take in the chosen look; another person's later choice is a conflict."""
    order, facts = _order_of(unit, entry), Facts(entry.facts)
    chosen: dict[str, Any] = {
        "backing": facts.whole_or_none("backing", 1, MAX_INTEGER),
        "finish": facts.whole_or_none("finish", 1, MAX_INTEGER),
        "plate_words": facts.text("plate_words", LONGEST_WORDS),
        "layout_words": facts.text("layout_words", LONGEST_WORDS),
    }
    subject, current, version = f"order {order.pk}", tablet_pack.look(order), order.frame.version
    if is_superseded(unit, entry, subject):
        return Answer(State.KEPT, "A later choice of yours stands.", subject, version)
    if chosen == current:
        return Answer(State.KEPT, "", subject, version)
    if not device_knows(unit, entry, subject, version):
        sentence = "Somebody chose another look meanwhile: choose."
        theirs = current | {"version": version}
        return Answer(State.CONFLICT, sentence, subject, version, theirs=theirs)
    for name in ("backing", "finish"):
        chosen[name] = _price(order, name, chosen[name])
    order = choose_look(order, **chosen, seen_version=version, by=by, at=at, key=key)
    return Answer(State.KEPT, "", subject, order.frame.version, wrote=True)


def _price(order: Order, kind: str, pk: int | None) -> Price | None:
    if pk is None:
        return None
    found = order.price_list.prices.filter(kind=kind, pk=pk).first()
    if found is None:
        raise ActionRefused(f"This {kind} is not on the order’s price list any more: choose again.")
    return found


def _deposit_label(unit: Unit, facts: dict[str, Any]) -> str:
    amount = money.display(facts["amount_minor"], unit.currency)
    return f"{amount}, {Payment.Method(facts['method']).label}"


@entry_kind("deposit", words=_deposit_label, owner_only=True)
def deposit(unit: Unit, entry: Entry, *, by: User, at: datetime, key: UUID) -> Answer:
    """Take in a deposit as a payment."""
    order, facts = _order_of(unit, entry), Facts(entry.facts)
    take_payment(
        order,
        amount_minor=facts.whole("amount_minor", 1, MAX_INTEGER),
        method=facts.one_of("method", Payment.MONEY),
        received_on=timezone.localdate(at),
        by=by,
        at=at,
        key=key,
    )
    return Answer()


@entry_kind("deposit_undo", owner_only=True)
def deposit_undo(unit: Unit, entry: Entry, *, by: User, at: datetime, key: UUID) -> Answer:
    """Reverse a deposit of the same tablet; one that was never taken in needs no reversal."""
    order, of = _order_of(unit, entry), Facts(entry.facts).key("of")
    payment = order.payments.filter(key=of).first()
    if payment is None:
        _forget(unit, of, by=by, at=at)
        return Answer(sentence="That deposit was never taken in: nothing is to be undone.")
    if order.payments.filter(reverses=payment).exists():
        return Answer(sentence="That deposit is undone already.")
    reverse_payment(payment, why="Undone on the tablet.", by=by, at=at, key=key)
    return Answer()


def _forget(unit: Unit, key: UUID, *, by: User, at: datetime) -> None:
    """Settle a refused deposit entry that is no longer wanted."""
    refused = unit.tablet_entries.unsettled().filter(key=key, kind="deposit").first()
    if refused is None:
        raise ActionRefused("There is no such deposit on this order.")
    refused.state, refused.choice = State.SETTLED, TabletEntry.Choice.LATER
    refused.settled_at, refused.settled_by = at, by
    refused.save()
