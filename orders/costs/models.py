"""Rates of the owner's work, and the recorded effort of jobs."""

from django.db import models
from django.db.models import Q

from studio.accounts.models import Unit
from studio.jobs.models import Job
from studio.versions import Versioned


class WorkRates(Versioned):
    """The rates of a unit; a unit without a row uses the defaults."""

    unit = models.OneToOneField(Unit, on_delete=models.PROTECT, related_name="work_rates")
    hour_minor = models.PositiveIntegerField("an hour of yours", default=1500)
    card_percent = models.DecimalField(
        "the card terminal takes, percent", max_digits=5, decimal_places=2, default=0
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(card_percent__gte=0, card_percent__lte=100), name="work_rates_percent"
            ),
        ]

    def __str__(self) -> str:
        return f"work rates of {self.unit}"


class JobEffort(Versioned):
    """The recorded minutes and travel of one job."""

    job = models.OneToOneField(Job, on_delete=models.PROTECT, related_name="effort")
    minutes = models.PositiveIntegerField("minutes of work, all in all", null=True, blank=True)
    travel_minor = models.PositiveIntegerField("travel", default=0)

    def __str__(self) -> str:
        return f"effort of {self.job}"
