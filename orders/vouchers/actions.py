"""Sell vouchers, pay with them and cancel them. Codes are random."""

import secrets
from datetime import date, datetime
from typing import Any
from uuid import UUID, uuid5

from django.db import transaction
from django.utils import timezone

from orders.event_words import OfPaper
from orders.order.models import Order
from orders.order.settlement import format_amount, refuse_invoiced, require_reason, settle
from orders.order.totals import balance_of
from orders.payments.actions import mirrored, refuse_above
from orders.payments.models import Payment
from orders.payments.received import money_in
from orders.prices.vat_rates import VatRates
from orders.vouchers.balances import left_on
from orders.vouchers.models import Voucher
from studio import money, references, units
from studio.accounts.models import Unit, User
from studio.jobs.job_action import JobAction, job_action, unit_action
from studio.stages import ActionRefused


@unit_action("vouchers")
def sell_voucher(
    unit: Unit, *, facts: dict[str, Any], by: User, at: datetime, key: UUID
) -> Voucher:
    """Sell a voucher today.

    `facts` has value_minor, price_minor, method, buyer, for_whom, words, expires_on and
    taxed_when_sold. A voucher for goods of one rate is taxed now at the price paid, one for goods
    of several rates when it is used (VATA 1994 Sch 10B). Raises ActionRefused for a price above the
    value, or an expiry that has passed.
    """
    sold_on = timezone.localdate(at)
    if not facts["value_minor"] > 0:
        raise ActionRefused("Write what the voucher is worth.")
    if facts["price_minor"] > facts["value_minor"]:
        raise ActionRefused("It is sold for more than it is worth: check both amounts.")
    if facts["expires_on"] <= sold_on:
        raise ActionRefused("Choose a day to come until which it is good.")
    percent = VatRates(unit).percent_on(sold_on) if facts["taxed_when_sold"] else None
    return Voucher.objects.create(
        unit=unit,
        code=_free_code(),
        sold_on=sold_on,
        vat_percent=percent,
        vat_minor=money.vat_inside(facts["price_minor"], percent) if percent is not None else 0,
        by=by,
        key=key,
        **facts,
    )


@job_action(lambda order, earlier: order.payments.get(key=earlier.key))
def pay_by_voucher(
    act: JobAction,
    order: Order,
    *,
    code: str,
    amount_minor: int | None,
    by: User,
    at: datetime,
    key: UUID,
) -> Payment:
    """Pay for an order with a voucher; `amount_minor` None uses as much as possible.

    A payment by a voucher that was taxed when sold is deducted from the invoice. Raises
    ActionRefused for an unknown, used up, cancelled or expired voucher, for more than is left on it
    or to pay, and while an invoice is in force if the voucher was taxed when sold.
    """
    job = act.job
    order = job.order
    today = timezone.localdate(at)
    voucher = _locked(order.unit, code)
    if voucher.taxed_when_sold:
        refuse_invoiced(order)  # it taxes what this voucher has paid the tax of
    left_minor = _left(voucher, today)
    balance_minor = balance_of(order)
    amount_minor = min(left_minor, balance_minor) if amount_minor is None else amount_minor
    refuse_above(order, max(amount_minor, 1), balance_minor)
    if amount_minor < 1:
        raise ActionRefused("Write an amount above zero.")
    if amount_minor > left_minor:
        raise ActionRefused(
            f"{format_amount(order, left_minor)} is left on this voucher: use at most that."
        )
    payment = _use(order, voucher, amount_minor, by=by, at=at, key=key)
    settle(order)
    act.record(facts=OfPaper(voucher.display_code))
    return payment


@transaction.atomic
def cancel_voucher(voucher: Voucher, *, why: str, by: User, at: datetime) -> Voucher:
    """Cancel an unused voucher and refund its price; repeating it changes nothing.

    Raises ActionRefused without a reason, or for a voucher that was used.
    """
    voucher = Voucher.objects.select_for_update().get(pk=voucher.pk)
    if voucher.cancelled_on:
        return voucher
    why = require_reason(why, "Write why it is cancelled: it stays in the books.")
    if left_on(voucher) != voucher.value_minor:
        raise ActionRefused(
            "Something was paid with this voucher: reverse that payment first, or let it run out."
        )
    voucher.cancelled_on, voucher.cancelled_why = timezone.localdate(at), why
    voucher.save(update_fields=["cancelled_on", "cancelled_why"])
    return voucher


def give_back(
    order: Order, *, kept_minor: int, why: str, by: User, at: datetime, key: UUID
) -> None:
    """Return the payments by voucher of a cancelled order to their vouchers.

    The part of `kept_minor` that exceeds the money received remains used. Call it inside an action,
    with the job locked.
    """
    live = order.payments.filter(reverses=None, reversed_by=None, amount_minor__gt=0)
    keep_minor = max(0, kept_minor - money_in(order))
    for payment in live.exclude(voucher=None).order_by("pk"):
        voucher = Voucher.objects.select_for_update().get(payments=payment)
        kept_of_it = min(keep_minor, payment.amount_minor)
        keep_minor -= kept_of_it
        if kept_of_it == payment.amount_minor:
            continue
        mirrored(payment, why=why, by=by, at=at, key=uuid5(key, f"back {payment.pk}"))
        if kept_of_it:
            again = uuid5(key, f"kept {payment.pk}")
            _use(order, voucher, kept_of_it, by=by, at=at, key=again)


def _use(
    order: Order, voucher: Voucher, amount_minor: int, *, by: User, at: datetime, key: UUID
) -> Payment:
    return order.payments.create(
        unit=order.unit,
        amount_minor=amount_minor,
        method=Payment.Method.VOUCHER,
        received_on=timezone.localdate(at),
        voucher=voucher,
        taxed_before=voucher.taxed_when_sold,
        why=voucher.display_code,
        by=by,
        key=key,
    )


def _free_code() -> str:
    while Voucher.objects.filter(code=(code := references.new_reference(secrets.choice))).exists():
        pass
    return code


def _locked(unit: Unit, code: str) -> Voucher:
    """Return the unit's voucher with this code, locked. Raises ActionRefused for a mistyped or
    unknown code.
    """
    try:
        tidy = references.normalise(code)
    except ValueError as slip:
        raise ActionRefused(str(slip).replace("reference", "voucher code")) from None
    found = Voucher.objects.select_for_update().filter(unit=unit, code=tidy).first()
    if found is None:
        raise ActionRefused("This studio has sold no voucher of that code.")
    return found


def _left(voucher: Voucher, today: date) -> int:
    if voucher.cancelled_on:
        raise ActionRefused(f"This voucher was cancelled: {voucher.cancelled_why}")
    if today > voucher.expires_on:
        raise ActionRefused(f"This voucher was good until {units.full_day(voucher.expires_on)}.")
    if not (left_minor := left_on(voucher)):
        raise ActionRefused("Nothing is left on this voucher.")
    return left_minor
