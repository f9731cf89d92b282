"""Issue invoices and credit notes: numbered without gaps, their content frozen."""

from collections.abc import Callable, Sequence
from datetime import date, datetime, timedelta
from functools import partial
from uuid import UUID

from django.utils import timezone

from orders.event_words import OfPaper
from orders.invoices import invoice_content, invoice_pdf
from orders.invoices.models import Invoice, NumberSeries
from orders.order.models import Order
from orders.order.settlement import refuse_invoiced, require_reason, settle
from orders.payments import received as payments_received
from orders.prices import vat
from orders.prices.vat_rates import VatRates
from studio.accounts.models import Unit, User
from studio.families.models import Family
from studio.jobs.job_action import JobAction, job_action
from studio.jobs.models import Job
from studio.stages import ActionRefused, Stage

INVOICE_PREFIX = "INV-"

CREDIT_PREFIX = "CRN-"

CREDIT_POSITION = 400


@job_action(lambda order, earlier: order.invoices.get(key=earlier.key))
def issue_invoice(act: JobAction, order: Order, *, by: User, at: datetime, key: UUID) -> Invoice:
    """Issue an invoice for the order as it is now: number it and freeze its content.

    Raises ActionRefused while another invoice is in force, if nothing is charged, or if something
    required by law is missing.
    """
    order = act.job.order
    unit = Unit.objects.get(pk=order.unit_id)
    refuse_invoiced(order)
    issued_on = timezone.localdate(at)
    facts = _facts(order, unit, issued_on)
    # In the transaction that stores the paper, so that no number is skipped.
    number = next_number(unit, INVOICE_PREFIX)
    content = invoice_content.invoice(number, facts)
    _refuse_unprintable(content, unit)
    invoice = Invoice.objects.create(
        unit=unit,
        order=order,
        kind=Invoice.Kind.INVOICE,
        number=number,
        issued_on=issued_on,
        supplied_on=facts.supplied_on,
        due_on=facts.due_on,
        total_minor=content["total_minor"],
        vat_minor=content.get("vat_minor", 0),
        content=content,
        by=by,
        key=key,
    )
    act.record(facts=OfPaper(number))
    return invoice


@job_action(lambda invoice, earlier: invoice.order.invoices.get(key=earlier.key))
def credit_invoice(
    act: JobAction, invoice: Invoice, *, why: str, by: User, at: datetime, key: UUID
) -> Invoice:
    """Cancel an invoice by a credit note for all that earlier credit notes left of it.

    The order may then change and be invoiced again. Raises ActionRefused without a reason, for an
    invoice already cancelled, or for a credit note.
    """
    why = require_reason(why, "Write why the invoice is cancelled: the credit note says it.")
    before = _notes_before(invoice)
    credit = partial(invoice_content.credit, before=before)
    note = _note(act, invoice, credit, credits=invoice, why=why, by=by)
    act.record(facts=OfPaper(invoice.number), why=why)
    return note


@job_action(lambda invoice, earlier: invoice.order.invoices.get(key=earlier.key))
def credit_part(
    act: JobAction,
    invoice: Invoice,
    *,
    amount_minor: int,
    why: str,
    by: User,
    at: datetime,
    key: UUID,
) -> Invoice:
    """Credit `amount_minor` of an invoice, which remains in force, and reduce the order by it.

    Crediting all that is left cancels the invoice, so that the order can change again. Raises
    ActionRefused without a reason, for nothing or more than is left, for a cancelled invoice, or
    for a credit note.
    """
    why = require_reason(why, "Write what is credited, and why: the credit note says it.")
    before = _notes_before(invoice)
    credit = partial(invoice_content.credit_part, amount_minor=amount_minor, before=before)
    left_minor = invoice.total_minor - sum(note["total_minor"] for note in before)
    to = {"credits" if amount_minor == left_minor else "reduces": invoice}
    note = _note(act, invoice, credit, **to, why=why, by=by)
    order = act.job.order
    order.lines.create(
        label=f"{note.number}: {why}"[:120], unit_minor=-amount_minor, position=CREDIT_POSITION
    )
    settle(order)
    act.record(facts=OfPaper(invoice.number), why=why)
    return note


def _notes_before(invoice: Invoice) -> Sequence[invoice_content.Content]:
    """Return the contents of earlier credit notes of an invoice; refuse one that is cancelled."""
    if invoice.kind != Invoice.Kind.INVOICE:
        raise ActionRefused("A credit note cannot be cancelled: issue a new invoice.")
    if credited := Invoice.objects.filter(credits=invoice).first():
        raise ActionRefused(f"Credit note {credited.number} has cancelled it already.")
    return [note.content for note in invoice.reduced_by.order_by("pk")]


def _note(
    act: JobAction,
    invoice: Invoice,
    credit: Callable[..., invoice_content.Content],
    *,
    why: str,
    by: User,
    **of: Invoice,
) -> Invoice:
    """Number and store a credit note, with the content that `credit` returns for the invoice's own."""
    unit = Unit.objects.get(pk=invoice.unit_id)
    issued_on = timezone.localdate(act.at)
    number = next_number(unit, CREDIT_PREFIX)
    try:
        content = credit(invoice.content, number=number, issued_on=issued_on, why=why)
    except ValueError as impossible:
        raise ActionRefused(str(impossible)) from None
    _refuse_unprintable(content, unit)
    return Invoice.objects.create(
        unit=unit,
        order=invoice.order,
        kind=Invoice.Kind.CREDIT,
        number=number,
        issued_on=issued_on,
        supplied_on=invoice.supplied_on,
        total_minor=-content["total_minor"],
        vat_minor=-content.get("vat_minor", 0),
        content=content,
        why=why,
        by=by,
        key=act.key,
        **of,
    )


def next_number(unit: Unit, prefix: str) -> str:
    """Return the next number of a series. Its row stays locked until the transaction ends, so none
    is skipped.
    """
    NumberSeries.objects.get_or_create(unit=unit, prefix=prefix)
    series = NumberSeries.objects.select_for_update().get(unit=unit, prefix=prefix)
    series.last += 1
    series.save(update_fields=["last"])
    return f"{prefix}{series.last:04}"


def _facts(order: Order, unit: Unit, issued_on: date) -> invoice_content.Facts:
    job, family = order.job, order.job.family
    charged = [
        invoice_content.Sold(line.words, line.quantity, line.unit_minor)
        for line in order.lines.select_related("price")
    ]
    lines, received = invoice_content.less_taxed_before(charged, payments_received.received(order))
    total_minor = sum(line.gross_minor for line in lines)
    _refuse_nothing(total_minor, by_voucher=len(lines) > len(charged))
    _refuse_incomplete(unit, family)
    supplied_on, rates = _supplied_on(job, issued_on), VatRates(unit)
    return invoice_content.Facts(
        currency=unit.currency,
        seller=seller_of(unit),
        customer=invoice_content.Customer(
            family.contact_name, family.address, family.postcode, unit.country
        ),
        reference=job.display_reference,
        pieces=_pieces(job),
        lines=lines,
        received=received,
        tax_points=[
            vat.TaxPoint(on, amount_minor, rates.percent_on(on))
            for on, amount_minor in vat.slices(total_minor, received, supplied_on)
        ],
        issued_on=issued_on,
        supplied_on=supplied_on,
        due_on=issued_on + timedelta(days=unit.payment_days),
        payment_words=unit.payment_words,
    )


def _refuse_nothing(total_minor: int, *, by_voucher: bool) -> None:
    if total_minor > 0:
        return
    if not by_voucher:
        raise ActionRefused("The order comes to nothing: there is nothing to invoice.")
    if total_minor == 0:
        raise ActionRefused(
            "Vouchers pay for all of it. Their sale was charged already: nothing is left to invoice."
        )
    raise ActionRefused(
        "Its vouchers pay for more than the order comes to: reverse a payment by voucher, "
        "and use the voucher for what is left."
    )


def _pieces(job: Job) -> list[str]:
    """Return the pieces as "Ada, left hand", first names only; none for a job called off."""
    if job.stage == Stage.CALLED_OFF:
        return []
    return [str(piece) for piece in job.pieces.on_the_job().select_related("child")]


def seller_of(unit: Unit) -> invoice_content.Seller:
    """Return the unit as the seller on its papers."""
    return invoice_content.Seller(
        name=unit.name,
        trader_name=unit.trader_name,
        address=unit.address,
        postcode=unit.postcode,
        phone=unit.phone,
        email=unit.email,
        vat_number=unit.vat_number,
        country=unit.country,
        tax_name=unit.tax_name,
    )


def _supplied_on(job: Job, issued_on: date) -> date:
    """Return the day of the hand-over; before it the invoice makes the tax point (VATA 1994 s.
    6(4)).
    """
    moved = job.events.moves().filter(to_stage=Stage.HANDED_OVER).first()
    return timezone.localdate(moved.at) if moved else issued_on


def _refuse_incomplete(unit: Unit, family: Family) -> None:
    """Require the names and addresses of both sides (gov.uk, "Invoices: what they must include")."""
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


def _refuse_unprintable(content: invoice_content.Content, unit: Unit) -> None:
    if "vat_minor" not in content and (words := invoice_content.names_vat(content, unit.tax_name)):
        raise ActionRefused(
            f"“{words}” speaks of {unit.tax_name}. A trader who is not registered must not: change these words."
        )
    if strange := invoice_pdf.unprintable(content):
        raise ActionRefused(
            f"The paper's font has no “{strange[0]}”: write the names and labels without it."
        )
