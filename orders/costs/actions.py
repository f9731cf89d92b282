"""What the owner writes down about her own work."""

from decimal import Decimal

from django.db import transaction

from orders.costs.models import JobEffort, WorkRates
from studio.accounts.models import Unit
from studio.jobs.job_action import lock_job
from studio.jobs.models import Job


@transaction.atomic
def set_work_rates(unit: Unit, *, hour_minor: int, card_percent: Decimal) -> WorkRates:
    """What an hour is worth and what the card terminal takes; the last word holds."""
    rates, _ = WorkRates.objects.update_or_create(
        unit=unit, defaults={"hour_minor": hour_minor, "card_percent": card_percent}
    )
    return rates


@transaction.atomic
def write_effort(job: Job, *, minutes: int | None, travel_minor: int) -> JobEffort:
    """What a job took; without minutes the usual ones count. The last word holds."""
    lock_job(job)
    effort, _ = JobEffort.objects.update_or_create(
        job=job, defaults={"minutes": minutes, "travel_minor": travel_minor}
    )
    return effort
