"""Record payments and refunds. A payment is never edited, only reversed."""

from datetime import date, datetime, timedelta
from uuid import UUID

from django.utils import timezone

from orders.order.models import Order
from orders.order.settlement import format_amount, refuse_invoiced, require_reason, settle
from orders.order.totals import balance_of
from orders.payments.models import Payment
from orders.payments.received import money_in
from studio.accounts.models import User
from studio.jobs.job_action import JobAction, itself, job_action, refuse_closed
from studio.stages import ActionRefused

# A payment more than a year before the job was opened is a typing mistake in the year.
_OLDEST = timedelta(days=366)


@job_action(lambda order, earlier: order.payments.get(key=earlier.key))
def take_payment(
    act: JobAction,
    order: Order,
    *,
    amount_minor: int,
    method: str,
    received_on: date,
    above: bool = False,
    by: User,
    at: datetime,
    key: UUID,
) -> Payment:
    """Record money received in minor units, also after the job has ended; `method` is a value of `Payment.Method`.

    Raises ActionRefused for zero or an impossible day, and for more than the balance unless `above`
    confirms that the family has paid more, which is then owed back.
    """
    job = act.job
    order = job.order
    balance_minor = balance_of(order)
    if amount_minor < 1:
        raise ActionRefused("Write an amount above zero.")
    if not above:
        refuse_above(order, amount_minor, balance_minor)
    _refuse_impossible(received_on, at, opened_on=timezone.localdate(job.opened_at))
    payment = order.payments.create(
        unit=order.unit,
        amount_minor=amount_minor,
        method=Payment.Method(method),
        received_on=received_on,
        by=by,
        key=key,
    )
    settle(order)
    act.record()
    return payment


@job_action(lambda payment, earlier: payment.order.payments.get(key=earlier.key))
def reverse_payment(
    act: JobAction, payment: Payment, *, why: str, by: User, at: datetime, key: UUID
) -> Payment:
    """Cancel a payment by a row with the opposite amount: a mistake, or a failed cheque or card.

    Raises ActionRefused without a reason, for a payment already reversed, or for a reversal.
    """
    job = act.job
    order = job.order
    why = require_reason(why, "Write why this payment is reversed: it stays in the books.")
    if payment.reverses_id:
        raise ActionRefused("This row reverses another one: write a new payment instead.")
    if order.payments.filter(reverses=payment).exists():
        raise ActionRefused("This payment is reversed already.")
    if payment.taxed_before:
        refuse_invoiced(order)  # its total is less by this voucher
    mirror = mirrored(payment, why=why, by=by, at=at, key=key)
    settle(order)
    act.record(why=why)
    return mirror


@job_action(lambda order, earlier: order.payments.get(key=earlier.key))
def pay_back(
    act: JobAction,
    order: Order,
    *,
    amount_minor: int,
    method: str,
    paid_on: date,
    why: str,
    by: User,
    at: datetime,
    key: UUID,
) -> Payment:
    """Record a refund by `method` (a value of `Payment.Method`) to a family that has paid more than the order costs.

    Raises ActionRefused without a reason, for nothing, for more than is owed to the family or was
    received as money, or for an impossible day.
    """
    order = act.job.order
    owed_minor = -balance_of(order)
    if owed_minor <= 0:
        raise ActionRefused("The family has not paid more than the order comes to.")
    if not 0 < amount_minor <= owed_minor:
        raise ActionRefused(
            f"{format_amount(order, owed_minor)} is owed to the family: pay back up to that."
        )
    _refuse_voucher_money(order, amount_minor)
    why = require_reason(why, "Write what the money is paid back for.")
    _refuse_impossible(paid_on, at, opened_on=timezone.localdate(act.job.opened_at))
    payment = order.payments.create(
        unit=order.unit,
        amount_minor=-amount_minor,
        method=Payment.Method(method),
        received_on=paid_on,
        why=why,
        by=by,
        key=key,
    )
    settle(order)
    act.record(why=why)
    return payment


@job_action(itself)
def release_on_account(
    act: JobAction, order: Order, *, why: str, by: User, at: datetime, key: UUID
) -> Order:
    """Let the finished piece be handed over before it is paid, for a reason.

    Raises MoveRefused on an ended job; ActionRefused without a reason, with nothing to pay, or a
    second time.
    """
    job = act.job
    order = job.order
    refuse_closed(job)
    why = require_reason(why, "Write why it may go home unpaid.")
    if order.released_at:
        raise ActionRefused("It is released already.")
    if balance_of(order) <= 0:
        raise ActionRefused("Nothing is left to pay: it may go home as it is.")
    order.released_at, order.released_why = at, why
    order.save(update_fields=["released_at", "released_why"])
    act.record(why=why)
    return order


def mirrored(payment: Payment, *, why: str, by: User, at: datetime, key: UUID) -> Payment:
    """Add the row that cancels a payment; call it inside an action, with its job locked."""
    return Payment.objects.create(
        unit=payment.unit,
        order=payment.order,
        amount_minor=-payment.amount_minor,
        method=payment.method,
        received_on=timezone.localdate(at),
        reverses=payment,
        voucher=payment.voucher,
        taxed_before=payment.taxed_before,
        why=why,
        by=by,
        key=key,
    )


def _refuse_voucher_money(order: Order, amount_minor: int) -> None:
    """Refuse to refund in money what was paid by voucher."""
    money_minor = money_in(order)
    if amount_minor > money_minor:
        raise ActionRefused(
            f"Only {format_amount(order, max(0, money_minor))} came in as money, the rest by voucher: reverse "
            "the payment by voucher, and use the voucher again for what the order comes to."
        )


def refuse_above(order: Order, amount_minor: int, balance_minor: int) -> None:
    """Raise ActionRefused for more than is left to pay."""
    if balance_minor <= 0:
        raise ActionRefused("Nothing is left to pay on this order.")
    if amount_minor > balance_minor:
        raise ActionRefused(
            f"{format_amount(order, balance_minor)} is left to pay: take at most that."
        )


def _refuse_impossible(day: date, at: datetime, *, opened_on: date) -> None:
    if day > timezone.localdate(at):
        raise ActionRefused("That day is still to come: write the payment when it is there.")
    if day < opened_on - _OLDEST:
        raise ActionRefused("That is more than a year before the job was opened: check the year.")
