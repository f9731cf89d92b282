"""Actions on an order: price it, choose the look, add and remove lines."""

from datetime import datetime
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext as _

from orders.event_words import FrameSized, LookChosen, OfLine
from orders.order import totals
from orders.order.lines import (
    REDUCTION_POSITION,
    add_automatic_discounts,
    add_discount_line,
    add_line,
    replace_cast_lines,
    replace_look_lines,
    update_discounts,
    update_frame_size,
)
from orders.order.models import Order
from orders.order.settlement import format_amount, refuse_invoiced, require_reason
from orders.prices.models import Price, PriceList
from production.frames import actions as frames
from production.frames.models import FrameOption
from studio import units
from studio.accounts.models import User
from studio.jobs.job_action import JobAction, itself, job_action, nothing, refuse_closed
from studio.jobs.models import Job
from studio.stages import ActionRefused, Stage

Kind = Price.Kind


@job_action(lambda job, earlier: Order.objects.get(job=job))
def price_job(act: JobAction, job: Job, *, by: User | None, at: datetime, key: UUID) -> Order:
    """Price the job's pieces at the lowest exact price of its list; extras and reductions remain.

    The first time it uses the list in force, later the order's own list. Raises MoveRefused on an
    ended job; ActionRefused without a list, if the list cannot price the pieces exactly, or while
    an invoice is in force.
    """
    job = act.job
    refuse_closed(job)
    order = Order.objects.filter(job=job).first()
    is_new = order is None
    if order is None:
        order = _new_order(job, _list_in_force(job, at))
    return _price(act, order, is_new=is_new)


@job_action(lambda job, earlier: Order.objects.get(job=job))
def reprice(act: JobAction, job: Job, *, by: User, at: datetime, key: UUID) -> Order:
    """Move the order to the price list in force now; options that this list also has remain.

    A backing or finish that the new list lacks is dropped. Raises what `price_job` raises, and
    ActionRefused once the family has accepted a price.
    """
    job = act.job
    refuse_closed(job)
    order = Order.objects.filter(job=job).first()
    price_list = _list_in_force(job, at)
    if order is None:
        order = _new_order(job, price_list)
    if accepted := order.quotes.last():
        raise ActionRefused(
            f"The family accepted its price on {units.full_day(timezone.localdate(accepted.accepted_at))}: "
            "the prices of that list hold for this order."
        )
    order.price_list = PriceList.objects.select_for_update().get(pk=price_list.pk)
    order.save(update_fields=["price_list"])
    priced = price_list.prices.exclude(option=None).values_list("option", flat=True)
    frames.drop_unoffered_options(job, set(priced))
    # Discounts belong to a list: remove the old list's, then add the new list's.
    order.lines.filter(price__kind=Kind.DISCOUNT).exclude(price__price_list=price_list).delete()
    return _price(act, order, is_new=True)


@job_action(itself)
def choose_look(
    act: JobAction,
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
    """Choose backing and finish for the job's frame and price them; `by` None is the family itself.

    Raises what `change_backing_and_finish` of the frame raises, and ActionRefused for a price of another list or while
    an invoice is in force.
    """
    order = act.job.order
    refuse_invoiced(order)
    texts = (plate_words or "", layout_words or "")
    frames.change_backing_and_finish(
        act.job,
        backing=_option_of(order, backing, Kind.BACKING),
        finish=_option_of(order, finish, Kind.FINISH),
        plate_words=plate_words,
        layout_words=layout_words,
        seen_version=seen_version,
        by=by,
    )
    replace_look_lines(order)
    update_discounts(order)
    labels = [price.label for price in (backing, finish) if price]
    act.record(facts=LookChosen(labels, [text.strip() for text in texts if text.strip()]))
    return order


@job_action(nothing, what="size_frame")
def reprice_for_frame_size(
    act: JobAction, job: Job, *, by: User | None, at: datetime, key: UUID
) -> None:
    """Price backing and finish by the current size of the job's frame.

    An accepted price, an invoiced order and an ended job do not change. Raises ActionRefused for a
    frame larger than the list's last band.
    """
    order = Order.objects.filter(job=act.job).first()
    fixed = order is None or act.job.is_closed or order.quotes.exists()
    if order is None or fixed or totals.current_invoice(order):
        act.nothing_changed()
        return
    if not update_frame_size(order, timezone.localdate(at)):
        act.nothing_changed()
        return
    replace_look_lines(order)
    update_discounts(order)
    act.record(facts=FrameSized(order.frame_mm))


@job_action(itself)
def add_extra(
    act: JobAction, order: Order, *, price: Price, quantity: int, by: User, at: datetime, key: UUID
) -> Order:
    """Add an extra, or second casts from this job's moulds, at most one for each piece.

    Raises ActionRefused for a price of another list, a quantity below 1, or while an invoice is in
    force.
    """
    order = act.job.order
    _refuse_late(order, price, (Kind.EXTRA, Kind.COPY))
    if quantity < 1:
        raise ActionRefused("Write how many, one at least.")
    if price.kind == Kind.COPY:
        _refuse_too_many_copies(order, quantity)
    add_line(order, price, quantity)
    update_discounts(order)
    act.record(facts=OfLine(price.label, quantity))
    return order


@job_action(itself)
def add_delivery(
    act: JobAction, order: Order, *, price: Price, km: int | None, by: User, at: datetime, key: UUID
) -> Order:
    """Charge a delivery over `km`, replacing an earlier one.

    Raises ActionRefused for a price of another list, a missing distance or one beyond the last
    band, or while an invoice is in force.
    """
    order = act.job.order
    _refuse_late(order, price, (Kind.DELIVERY,))
    if km is None and price.bands.exists():
        raise ActionRefused("This price goes by distance: write how many km it is.")
    order.lines.filter(price__kind=Kind.DELIVERY).delete()
    add_line(order, price, km=km)
    update_discounts(order)
    act.record(facts=OfLine(price.label))
    return order


@job_action(itself)
def add_discount(
    act: JobAction, order: Order, *, price: Price, by: User, at: datetime, key: UUID
) -> Order:
    """Give a discount of the price list; its amount follows the price until the invoice.

    Raises ActionRefused for a discount of another list, one given already, or while an invoice is
    in force.
    """
    order = act.job.order
    _refuse_late(order, price, (Kind.DISCOUNT,))
    if order.lines.filter(price=price).exists():
        raise ActionRefused(f"“{price.label}” is on this order already.")
    add_discount_line(order, price)
    update_discounts(order)
    act.record(facts=OfLine(price.label))
    return order


@job_action(itself)
def add_reduction(
    act: JobAction,
    order: Order,
    *,
    label: str,
    amount_minor: int,
    by: User,
    at: datetime,
    key: UUID,
) -> Order:
    """Reduce the price by `amount_minor` (above zero) with a label for the invoice.

    Raises ActionRefused without a label, above the total, or while an invoice is in force.
    """
    order = act.job.order
    refuse_invoiced(order)
    label = require_reason(label, "Write what the reduction is for: the invoice says it.")
    if amount_minor < 1:
        raise ActionRefused("A reduction is an amount above zero.")
    if amount_minor > (total_minor := totals.sums(order).total_minor):
        raise ActionRefused(
            f"The order comes to {format_amount(order, total_minor)}: take off at most that."
        )
    order.lines.create(label=label, unit_minor=-amount_minor, position=REDUCTION_POSITION)
    update_discounts(order)
    act.record(facts=OfLine(label))
    return order


@job_action(itself)
def drop_line(
    act: JobAction, order: Order, *, line_pk: int, by: User, at: datetime, key: UUID
) -> Order:
    """Remove an extra, discount, delivery or reduction from the order.

    Raises ActionRefused for a line that follows from pieces or look, one already removed, or while
    an invoice is in force.
    """
    order = act.job.order
    refuse_invoiced(order)
    line = order.lines.filter(pk=line_pk).first()
    if line is None:
        raise ActionRefused("This line is off the order already.")
    if not line.can_drop:
        raise ActionRefused("This line follows from the pieces and the look: change those instead.")
    line.delete()
    update_discounts(order)
    act.record(facts=OfLine(line.label))
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


def _price(act: JobAction, order: Order, *, is_new: bool) -> Order:
    refuse_invoiced(order)
    replace_cast_lines(order)
    update_frame_size(order, timezone.localdate(act.at))
    replace_look_lines(order)
    if is_new:
        add_automatic_discounts(order)
    update_discounts(order)
    act.record()
    return order


def _refuse_late(order: Order, price: Price, kinds: tuple[Price.Kind, ...]) -> None:
    if order.job.stage == Stage.CALLED_OFF:
        refuse_closed(order.job)
    refuse_invoiced(order)
    if price.kind not in kinds or price.price_list_id != order.price_list_id:
        raise ActionRefused(f"“{price.label}” is not on this order's price list.")


def _refuse_too_many_copies(order: Order, quantity: int) -> None:
    there = sum(line.quantity for line in order.lines.filter(price__kind=Kind.COPY))
    pieces = order.job.pieces.on_the_job().count()
    if there + quantity > pieces:
        raise ActionRefused(
            f"The job has {pieces} mould{'' if pieces == 1 else 's'}: "
            "one second cast of each is what they are good for."
        )


def _option_of(order: Order, price: Price | None, kind: Price.Kind) -> FrameOption | None:
    if price is None:
        return None
    if price.kind != kind or price.price_list_id != order.price_list_id:
        not_on_it = _("“%(label)s” is not on this order's price list.")
        raise ActionRefused(not_on_it % {"label": price.label})
    return price.option
