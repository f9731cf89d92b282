"""Payment reminders: the owner sends them herself, and the job records that she did."""

from datetime import datetime
from uuid import UUID

from orders.event_words import OfPaper
from orders.order.models import Order
from orders.order.totals import balance_of, current_invoice
from studio.accounts.models import User
from studio.jobs.job_action import JobAction, job_action, the_event
from studio.jobs.models import JobEvent
from studio.stages import ActionRefused


@job_action(the_event)
def note_reminder(act: JobAction, order: Order, *, by: User, at: datetime, key: UUID) -> JobEvent:
    """Record that the owner has reminded the family of its invoice.

    Raises ActionRefused without an invoice in force or with nothing left to pay.
    """
    job = act.job
    order = job.order
    invoice = current_invoice(order)
    if invoice is None:
        raise ActionRefused("No invoice stands for this order: there is nothing to remind of.")
    if balance_of(order) <= 0:
        raise ActionRefused("The invoice is paid: there is nothing to remind of.")
    return act.record(facts=OfPaper(invoice.number))
