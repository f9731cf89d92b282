"""Reminders are drafted for the owner, who sends them: what is written down is that it was done."""

from datetime import datetime
from uuid import UUID

from django.db import transaction

from orders import queries
from orders.models import Order
from studio.actions import ActionRefused, lock_job, record
from studio.models import JobEvent, User


@transaction.atomic
def note_reminder(order: Order, *, by: User, at: datetime, key: UUID) -> JobEvent:
    """Write down that the owner reminded the family of its invoice.

    Raises ActionRefused where no invoice stands or nothing is left to pay.
    """
    job = lock_job(order.job)
    order = job.order
    if earlier := job.events.filter(key=key).first():
        return earlier
    standing = queries.standing_invoice(order)
    if standing is None:
        raise ActionRefused("No invoice stands for this order: there is nothing to remind of.")
    if queries.balance_of(order) <= 0:
        raise ActionRefused("The invoice is paid: there is nothing to remind of.")
    return record(job, what="note_reminder", by=by, at=at, key=key, why=standing.number)
