"""A drafted reminder of an unpaid invoice, as a mailto link or text to copy."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from urllib.parse import urlencode

from orders.balances.reminder_letters import OpenInvoice, reminder, tone_of
from orders.invoices.models import Invoice
from orders.order.models import Order
from orders.order.totals import balance_of, current_invoice
from orders.payments.payment_references import in_fours
from studio import money, units


@dataclass(frozen=True, slots=True)
class Draft:
    """A reminder to send. `address` is its mailto link, "" without an email address; `reminders`
    are the events of earlier ones.
    """

    invoice: Invoice
    days_late: int
    balance_minor: int
    subject: str
    body: str
    address: str
    reminders: list[Any]


def draft(order: Order, today: date) -> Draft | None:
    """Draft a reminder for an order; None without an invoice in force or a balance. Six queries."""
    invoice, balance_minor = current_invoice(order), balance_of(order)
    if invoice is None or balance_minor <= 0:
        return None
    unit = order.unit
    job = unit.jobs.with_people().get(pk=order.job_id)
    family = job.family
    due_on = invoice.due_on or invoice.issued_on + timedelta(days=unit.payment_days)
    reminders = list(job.events.filter(what="note_reminder"))
    days_late = (today - due_on).days
    subject, body = reminder(
        OpenInvoice(
            number=invoice.number,
            payment_reference=in_fours(invoice.content.get("payment_reference", invoice.number)),
            owed=money.display(balance_minor, unit.currency),
            issued=units.day(invoice.issued_on),
            due=units.day(due_on),
        ),
        tone=tone_of(days_late, len(reminders)),
        contact=family.contact_name,
        children=job.first_names,
        payment_words=unit.payment_words,
        signed=f"{unit.trader_name}\n{unit.name}, {unit.phone}",
    )
    return Draft(
        invoice,
        days_late,
        balance_minor,
        subject,
        body,
        _mail(family.email, subject, body),
        reminders,
    )


def _mail(address: str, subject: str, body: str) -> str:
    # A mail program reads "+" as itself.
    sent = urlencode({"subject": subject, "body": body}).replace("+", "%20")
    return f"mailto:{address}?{sent}" if address else ""
