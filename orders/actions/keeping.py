"""The papers that are kept: the PDF of an invoice as it was first written, and receipts."""

import hashlib
from datetime import datetime
from uuid import UUID

from django.utils import timezone

from orders import money_papers, papers, pdf
from orders.actions.invoicing import next_number, percent_on, seller_of
from orders.event_words import OfPaper
from orders.models import Invoice, InvoicePdf, Payment, Receipt
from orders.vat import Received
from studio.actions import ActionRefused, JobAction, job_action
from studio.models import Unit, User

RECEIPT_PREFIX = "RCT-"


class PaperSpoiled(ActionRefused):
    """What is kept is not what was issued: somebody or something changed the database."""


def keep_pdf(invoice: Invoice, *, at: datetime) -> bytes:
    """The PDF of an issued paper: the kept one, or written now and kept. Call it outside the
    transaction that issues: it takes a fifth of a second.

    Raises PaperSpoiled where the kept PDF or the content does not match the digests of its issue.
    """
    kept = InvoicePdf.objects.filter(invoice=invoice).first()
    if kept is None:
        written = pdf.invoice_pdf(invoice)
        kept, _ = InvoicePdf.objects.get_or_create(
            invoice=invoice,
            defaults={
                "pdf": written,
                "sha256": hashlib.sha256(written).hexdigest(),
                "content_sha256": papers.digest(invoice.content),
                "made_at": at,
            },
        )
    return whole_pdf(invoice, kept)


def whole_pdf(invoice: Invoice, kept: InvoicePdf) -> bytes:
    """The bytes of a kept PDF. Raises PaperSpoiled."""
    written = bytes(kept.pdf)
    for found, digest, what in (
        (hashlib.sha256(written).hexdigest(), kept.sha256, "The kept PDF"),
        (papers.digest(invoice.content), kept.content_sha256, "The content"),
    ):
        if found != digest:
            raise PaperSpoiled(
                f"{what} of {invoice.number} is not what was issued: its digest differs. "
                "Bring the paper back from a back-up, and find out what changed the database."
            )
    return written


@job_action(lambda payment, earlier: payment.receipt)
def give_receipt(act: JobAction, payment: Payment, *, by: User, at: datetime, key: UUID) -> Receipt:
    """Number a receipt for money that came in; the second time it is the first.

    Raises ActionRefused for money that went back, or a payment that was reversed.
    """
    job = act.job
    if earlier := Receipt.objects.filter(payment=payment).first():
        act.nothing_changed()
        return earlier
    if payment.amount_minor < 0 or payment.reverses_id:
        raise ActionRefused("A receipt is for money that came in.")
    if payment.taxed_before:
        raise ActionRefused(
            "This voucher was charged and taxed when it was sold: no money came in."
        )
    if Payment.objects.filter(reverses=payment).exists():
        raise ActionRefused("This payment was reversed: there is nothing to give a receipt for.")
    unit = Unit.objects.get(pk=payment.unit_id)
    issued_on = timezone.localdate(at)
    family = job.family
    content = money_papers.receipt(
        next_number(unit, RECEIPT_PREFIX),
        seller=seller_of(unit),
        customer_name=family.contact_name,
        reference=job.spoken_reference,
        currency=unit.currency,
        issued_on=issued_on,
        came=Received(payment.received_on, payment.amount_minor, payment.get_method_display()),
        percent=percent_on(unit, payment.received_on),
    )
    if strange := pdf.unprintable(content):
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
