"""Invoices and credit notes: numbered without gaps, frozen, issued once."""

from datetime import date, datetime
from decimal import Decimal
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from orders import papers, pdf, queries
from orders.actions.books import refuse_invoiced, the_reason
from orders.models import Invoice, NumberSeries, Order
from studio.actions import ActionRefused, lock_job, record
from studio.models import Family, Job, Unit, User
from studio.stages import Stage

INVOICE_PREFIX = "INV-"
CREDIT_PREFIX = "CRN-"


@transaction.atomic
def issue_invoice(order: Order, *, by: User, at: datetime, key: UUID) -> Invoice:
    """Number the order as it stands and freeze everything the paper says.

    Raises ActionRefused while an invoice stands, where nothing is charged, or where something
    that the law wants on the paper is missing.
    """
    job = lock_job(order.job)
    order = job.order
    unit = Unit.objects.get(pk=order.unit_id)
    if earlier := unit.invoices.filter(key=key).first():
        return earlier
    refuse_invoiced(order)
    issued_on = timezone.localdate(at)
    facts = _facts(order, unit, issued_on)
    # In the transaction that writes the paper: no number without its paper.
    number = _next_number(unit, INVOICE_PREFIX)
    content = papers.invoice(number, facts)
    _refuse_wrong_words(content)
    invoice = Invoice.objects.create(
        unit=unit,
        order=order,
        kind=Invoice.Kind.INVOICE,
        number=number,
        issued_on=issued_on,
        supplied_on=facts.supplied_on,
        total_minor=content["total_minor"],
        vat_minor=content.get("vat_minor", 0),
        content=content,
        by=by,
        key=key,
    )
    record(job, what="issue_invoice", by=by, at=at, key=key, why=number)
    return invoice


@transaction.atomic
def credit_invoice(invoice: Invoice, *, why: str, by: User, at: datetime, key: UUID) -> Invoice:
    """Cancel the whole of an invoice by a credit note; the order may then change and be invoiced anew.

    Raises ActionRefused without a reason, a second time, or for a credit note itself.
    """
    job = lock_job(invoice.order.job)
    unit = Unit.objects.get(pk=invoice.unit_id)
    if earlier := unit.invoices.filter(key=key).first():
        return earlier
    why = the_reason(why, "Write why the invoice is cancelled: the credit note says it.")
    if invoice.kind != Invoice.Kind.INVOICE:
        raise ActionRefused("A credit note cannot be cancelled: issue a new invoice.")
    if credited := Invoice.objects.filter(credits=invoice).first():
        raise ActionRefused(f"Credit note {credited.number} has cancelled it already.")
    issued_on = timezone.localdate(at)
    number = _next_number(unit, CREDIT_PREFIX)
    content = papers.credit(invoice.content, number=number, issued_on=issued_on, why=why)
    _refuse_wrong_words(content)
    note = Invoice.objects.create(
        unit=unit,
        order=invoice.order,
        kind=Invoice.Kind.CREDIT,
        number=number,
        issued_on=issued_on,
        supplied_on=invoice.supplied_on,
        credits=invoice,
        why=why,
        total_minor=-invoice.total_minor,
        vat_minor=-invoice.vat_minor,
        content=content,
        by=by,
        key=key,
    )
    record(job, what="credit_invoice", by=by, at=at, key=key, why=f"{invoice.number}: {why}")
    return note


def _next_number(unit: Unit, prefix: str) -> str:
    """The next of a series; its row is held to the end of the transaction, so none is skipped."""
    NumberSeries.objects.get_or_create(unit=unit, prefix=prefix)
    series = NumberSeries.objects.select_for_update().get(unit=unit, prefix=prefix)
    series.last += 1
    series.save(update_fields=["last"])
    return f"{prefix}{series.last:04}"


def _facts(order: Order, unit: Unit, issued_on: date) -> papers.Facts:
    job, family = order.job, order.job.family
    lines = [papers.Sold(li.label, li.quantity, li.unit_minor) for li in order.lines.all()]
    total_minor = sum(line.gross_minor for line in lines)
    if total_minor <= 0:
        raise ActionRefused("The order comes to nothing: there is nothing to invoice.")
    _refuse_incomplete(unit, family)
    received = queries.received(order)
    supplied_on = _supplied_on(job, issued_on)
    return papers.Facts(
        currency=unit.currency,
        seller=_seller(unit),
        customer=papers.Customer(family.contact_name, family.address, family.postcode),
        reference=job.spoken_reference,
        pieces=_pieces(job),
        lines=lines,
        received=received,
        tax_points=[
            papers.TaxPoint(on, amount_minor, _percent_on(unit, on))
            for on, amount_minor in papers.slices(total_minor, received, supplied_on)
        ],
        issued_on=issued_on,
        supplied_on=supplied_on,
        payment_words=unit.payment_words,
    )


def _pieces(job: Job) -> list[str]:
    """ "Ada, left hand": first names only. None where the job was called off."""
    if job.stage == Stage.CALLED_OFF:
        return []
    return [str(piece) for piece in job.pieces.on_the_job().select_related("child")]


def _seller(unit: Unit) -> papers.Seller:
    return papers.Seller(
        name=unit.name,
        trader_name=unit.trader_name,
        address=unit.address,
        postcode=unit.postcode,
        phone=unit.phone,
        email=unit.email,
        vat_number=unit.vat_number,
    )


def _supplied_on(job: Job, issued_on: date) -> date:
    """The day of the hand-over; before it, the invoice itself makes the tax point (VATA 1994 s. 6(4))."""
    moved = job.events.moves().filter(to_stage=Stage.HANDED_OVER).first()
    return timezone.localdate(moved.at) if moved else issued_on


def _percent_on(unit: Unit, day: date) -> Decimal | None:
    """The unit's rate of VAT on a day; None before it was registered."""
    if unit.vat_registered_on is None or day < unit.vat_registered_on:
        return None
    if (unit.country, unit.currency) != ("GB", "GBP"):
        raise ActionRefused(
            "Caststead writes VAT invoices for the United Kingdom in pounds only. "
            "Issue this invoice by other means."
        )
    rate = unit.vat_rates.filter(valid_from__lte=day).order_by("-valid_from").first()
    if rate is None:
        raise ActionRefused(
            f"No rate of VAT is written down for {day:%d.%m.%Y}. Add it under Money, Prices."
        )
    return rate.percent


def _refuse_incomplete(unit: Unit, family: Family) -> None:
    """The names and addresses of both sides (gov.uk, "Invoices: what they must include")."""
    missing = [
        sentence
        for there, sentence in (
            (unit.trader_name, "Write the trader's own name under Unit."),
            (unit.address, "Write the business address under Unit."),
            (family.contact_name, "Write who to speak to in the family."),
            (family.address, "Write the family's address: an invoice must show it."),
        )
        if not there.strip()
    ]
    if missing:
        raise ActionRefused(*missing)


def _refuse_wrong_words(content: papers.Content) -> None:
    if "vat_minor" not in content and (words := papers.names_vat(content)):
        raise ActionRefused(
            f"“{words}” speaks of VAT. A trader who is not registered must not: change these words."
        )
    if strange := pdf.unprintable(content):
        raise ActionRefused(
            f"The paper's font has no “{strange[0]}”: write the names and labels without it."
        )
