"""What the owner's work costs, as she enters it."""

from decimal import Decimal

from django.db import transaction

from orders.costs.models import JobEffort, WorkRates
from studio.accounts.models import Unit
from studio.jobs.job_action import lock_job
from studio.jobs.models import Job


@transaction.atomic
def set_work_rates(unit: Unit, *, hour_minor: int, card_percent: Decimal) -> WorkRates:
    """Store the value of an hour and the fee of the card terminal, replacing earlier rates."""
    rates, _ = WorkRates.objects.update_or_create(
        unit=unit, defaults={"hour_minor": hour_minor, "card_percent": card_percent}
    )
    return rates


@transaction.atomic
def write_effort(job: Job, *, minutes: int | None, travel_minor: int) -> JobEffort:
    """Store the minutes and travel of a job, replacing earlier ones; without minutes the usual ones
    count.
    """
    lock_job(job)
    effort, _ = JobEffort.objects.update_or_create(
        job=job, defaults={"minutes": minutes, "travel_minor": travel_minor}
    )
    return effort
