"""Receipts: numbered without gaps, one for a payment."""

from datetime import datetime
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext as _

from orders.event_words import OfPaper
from orders.invoices import invoice_pdf
from orders.invoices.actions import next_number, seller_of
from orders.payments.models import Payment
from orders.prices.vat import Received
from orders.prices.vat_rates import VatRates
from orders.receipts import receipt_content
from orders.receipts.models import Receipt
from studio.accounts.models import Unit, User
from studio.jobs.job_action import JobAction, job_action
from studio.stages import ActionRefused

RECEIPT_PREFIX = "RCT-"


@job_action(lambda payment, earlier: payment.receipt)
def give_receipt(act: JobAction, payment: Payment, *, by: User, at: datetime, key: UUID) -> Receipt:
    """Issue a numbered receipt for a payment received; a second call returns the first receipt.

    Raises ActionRefused for a refund, a reversed payment, a voucher taxed when it was sold, or a
    character that the receipt's font cannot print.
    """
    if earlier := Receipt.objects.filter(payment=payment).first():
        act.nothing_changed()
        return earlier
    _refuse_not_received(payment)
    unit = Unit.objects.get(pk=payment.unit_id)
    issued_on = timezone.localdate(at)
    content = receipt_content.receipt(
        next_number(unit, RECEIPT_PREFIX),
        seller=seller_of(unit),
        customer_name=act.job.family.contact_name,
        reference=act.job.display_reference,
        currency=unit.currency,
        issued_on=issued_on,
        came=Received(payment.received_on, payment.amount_minor, _(payment.get_method_display())),
        percent=VatRates(unit).percent_on(payment.received_on),
    )
    if strange := invoice_pdf.unprintable(content):
        raise ActionRefused(f"The paper's font has no “{strange[0]}”: write the names without it.")
    receipt = Receipt.objects.create(
        unit=unit,
        payment=payment,
        number=content["number"],
        issued_on=issued_on,
        content=content,
        by=by,
        key=key,
    )
    act.record(facts=OfPaper(receipt.number))
    return receipt


def _refuse_not_received(payment: Payment) -> None:
    if payment.amount_minor < 0 or payment.reverses_id:
        raise ActionRefused("A receipt is for money that came in.")
    if payment.taxed_before:
        raise ActionRefused(
            "This voucher was charged and taxed when it was sold: no money came in."
        )
    if Payment.objects.filter(reverses=payment).exists():
        raise ActionRefused("This payment was reversed: there is nothing to give a receipt for.")
