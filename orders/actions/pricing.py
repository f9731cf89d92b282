"""An order and its lines: from the job's pieces, the look that was chosen, extras and reductions."""

from collections import Counter
from collections.abc import Hashable, Iterable
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from orders import pricing, queries
from orders.actions.books import refuse_invoiced, say, settle, the_reason
from orders.models import Order, OrderLine, Price, PriceList
from studio.actions import ActionRefused, lock_job, record, refuse_closed, save_edited
from studio.models import Job, User
from studio.stages import MoveRefused, Stage

Kind = Price.Kind

_PLACE = {Kind.CASTS: 0, Kind.BACKING: 100, Kind.FINISH: 110, Kind.EXTRA: 200}
_PLACE_OF_REDUCTIONS = 300
_SPOKEN = {Kind.BACKING: "Backing: ", Kind.FINISH: "Finish: "}


@transaction.atomic
def price_job(job: Job, *, by: User | None, at: datetime, key: UUID) -> Order:
    """Price the job's pieces at the cheapest lawful choice of its list; extras and reductions stay.

    The first time on the list in force, afterwards on the order's own: the price that the family
    was told holds. Raises MoveRefused on an ended job; ActionRefused without a list, where the
    list cannot make up the pieces, or while an invoice stands.
    """
    job = lock_job(job)
    if job.events.filter(key=key).exists():
        return job.order
    refuse_closed(job)
    order = Order.objects.filter(job=job).first() or _new_order(job, _list_in_force(job, at))
    return _price(order, what="price_job", by=by, at=at, key=key)


@transaction.atomic
def price_anew(job: Job, *, by: User, at: datetime, key: UUID) -> Order:
    """Price the job on the list that is in force now; backing and finish of the same name stay.

    Raises what `price_job` raises.
    """
    job = lock_job(job)
    if job.events.filter(key=key).exists():
        return job.order
    refuse_closed(job)
    order = Order.objects.filter(job=job).first()
    price_list = _list_in_force(job, at)
    if order is None:
        order = _new_order(job, price_list)
    order.price_list = PriceList.objects.select_for_update().get(pk=price_list.pk)
    order.backing = _same_in(price_list, order.backing)
    order.finish = _same_in(price_list, order.finish)
    order.version += 1
    order.save(update_fields=["price_list", "backing", "finish", "version"])
    return _price(order, what="price_anew", by=by, at=at, key=key)


@transaction.atomic
def choose_look(
    order: Order,
    *,
    backing: Price | None,
    finish: Price | None,
    plate_words: str | None = None,
    layout_words: str | None = None,
    seen_version: int,
    by: User | None,
    at: datetime,
    key: UUID,
) -> Order:
    """Choose backing and finish; `by` None is the family itself, which may until framing starts.

    The words of the plate and of the layout stay as they are where none are given.
    The studio may until the piece is ready. Raises MoveRefused after that, EditedMeanwhile if the
    order changed since it was read, ActionRefused for a look of another list or while an invoice
    stands.
    """
    job = lock_job(order.job)
    order = job.order
    if job.events.filter(key=key).exists():
        return order
    refuse_invoiced(order)
    if not (queries.can_choose(job) or (by and job.stage == Stage.FRAMING)):
        raise MoveRefused("The framing has begun: backing and finish can no longer be changed.")
    _refuse_foreign(order, backing, Kind.BACKING)
    _refuse_foreign(order, finish, Kind.FINISH)
    given = {"plate_words": plate_words, "layout_words": layout_words}
    words = {name: said.strip() for name, said in given.items() if said is not None}
    save_edited(order, {"backing": backing, "finish": finish, **words}, seen_version=seen_version)
    _lay_look(order)
    settle(order)
    labels = [price.label for price in (backing, finish) if price]
    said = ", ".join([*labels, *filter(None, words.values())])
    record(job, what="choose_look", by=by, at=at, key=key, why=said)
    return order


@transaction.atomic
def add_extra(
    order: Order, *, price: Price, quantity: int, by: User, at: datetime, key: UUID
) -> Order:
    """Raises ActionRefused for a price of another list, no quantity, or while an invoice stands."""
    job = lock_job(order.job)
    order = job.order
    if job.events.filter(key=key).exists():
        return order
    if job.stage == Stage.CALLED_OFF:
        refuse_closed(job)
    refuse_invoiced(order)
    _refuse_foreign(order, price, Kind.EXTRA)
    if quantity < 1:
        raise ActionRefused("Write how many, one at least.")
    order.lines.create(
        price=price,
        label=price.label,
        quantity=quantity,
        unit_minor=price.amount_minor,
        position=_PLACE[Kind.EXTRA],
    )
    settle(order)
    record(job, what="add_extra", by=by, at=at, key=key, why=f"{quantity} × {price.label}")
    return order


@transaction.atomic
def add_reduction(
    order: Order, *, label: str, amount_minor: int, by: User, at: datetime, key: UUID
) -> Order:
    """Take `amount_minor` (above zero) off the price, with the words that the invoice will show.

    Raises ActionRefused without words, above the total, or while an invoice stands.
    """
    job = lock_job(order.job)
    order = job.order
    if job.events.filter(key=key).exists():
        return order
    refuse_invoiced(order)
    label = the_reason(label, "Write what the reduction is for: the invoice says it.")
    if amount_minor < 1:
        raise ActionRefused("A reduction is an amount above zero.")
    if amount_minor > (total_minor := queries.sums(order).total_minor):
        raise ActionRefused(f"The order comes to {say(order, total_minor)}: take off at most that.")
    order.lines.create(label=label, unit_minor=-amount_minor, position=_PLACE_OF_REDUCTIONS)
    settle(order)
    record(job, what="add_reduction", by=by, at=at, key=key, why=label)
    return order


@transaction.atomic
def drop_line(order: Order, *, line_pk: int, by: User, at: datetime, key: UUID) -> Order:
    """Take an extra or a reduction off the order again.

    Raises ActionRefused for a line that follows from the job or is gone, or while an invoice stands.
    """
    job = lock_job(order.job)
    order = job.order
    if job.events.filter(key=key).exists():
        return order
    refuse_invoiced(order)
    line = order.lines.filter(pk=line_pk).first()
    if line is None:
        raise ActionRefused("This line is off the order already.")
    if not line.can_drop:
        raise ActionRefused("This line follows from the pieces and the look: change those instead.")
    line.delete()
    settle(order)
    record(job, what="drop_line", by=by, at=at, key=key, why=line.label)
    return order


def _list_in_force(job: Job, at: datetime) -> PriceList:
    found = job.unit.price_lists.in_force_on(timezone.localdate(at))
    if found is None:
        raise ActionRefused("No price list is in force yet. Make one under Money, Prices.")
    return found


def _new_order(job: Job, price_list: PriceList) -> Order:
    # Locked, so that nobody edits the list between this and the order that fixes it.
    PriceList.objects.select_for_update().get(pk=price_list.pk)
    return Order.objects.create(unit=job.unit, job=job, price_list=price_list)


def _price(order: Order, *, what: str, by: User | None, at: datetime, key: UUID) -> Order:
    refuse_invoiced(order)
    chosen = _cheapest(order)
    order.lines.filter(price__kind=Kind.CASTS).delete()
    _lay(order, chosen)
    _lay_look(order)
    settle(order)
    record(order.job, what=what, by=by, at=at, key=key)
    return order


def _cheapest(order: Order) -> list[tuple[Price, int]]:
    """Raises ActionRefused where the list cannot make up the pieces exactly."""
    prices = {str(p.pk): p for p in order.price_list.prices.filter(kind=Kind.CASTS)}
    offers = [
        pricing.Offer(code, p.label, p.pieces, p.amount_minor, p.one_child)
        for code, p in prices.items()
    ]
    pieces = Counter[Hashable](order.job.pieces.on_the_job().values_list("child_id", flat=True))
    try:
        chosen = pricing.cheapest(pieces, offers)
    except ValueError as impossible:
        raise ActionRefused(str(impossible)) from None
    return [(prices[each.offer.code], each.quantity) for each in chosen]


def _lay_look(order: Order) -> None:
    order.lines.filter(price__kind__in=(Kind.BACKING, Kind.FINISH)).delete()
    _lay(order, [(price, 1) for price in (order.backing, order.finish) if price])


def _lay(order: Order, chosen: Iterable[tuple[Price, int]]) -> None:
    OrderLine.objects.bulk_create(
        OrderLine(
            order=order,
            price=price,
            label=f"{_SPOKEN.get(Kind(price.kind), '')}{price.label}",
            quantity=quantity,
            unit_minor=price.amount_minor,
            position=_PLACE[Kind(price.kind)],
        )
        for price, quantity in chosen
    )


def _same_in(price_list: PriceList, price: Price | None) -> Price | None:
    if price is None:
        return None
    return price_list.prices.filter(kind=price.kind, label=price.label).first()


def _refuse_foreign(order: Order, price: Price | None, kind: Price.Kind) -> None:
    if price and (price.kind != kind or price.price_list_id != order.price_list_id):
        raise ActionRefused(f"“{price.label}” is not on this order's price list.")
