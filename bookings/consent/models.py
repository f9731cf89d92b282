import uuid

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_noop

from bookings.consent import querysets as consent_querysets
from studio.accounts.models import User
from studio.families.models import Family


class Consent(models.Model):
    """A family's consent for one purpose, with the wording in which it was asked; it can be withdrawn."""

    class Purpose(models.TextChoices):
        MAKE = "make", gettext_noop("take the prints and make the casts")
        KEEP = "keep", gettext_noop("keep photographs of the sitting and the casts")
        SHOW = "show", gettext_noop("show photographs of the finished casts on the studio’s page")

    family = models.ForeignKey(Family, on_delete=models.PROTECT, related_name="consents")
    purpose = models.CharField(max_length=10, choices=Purpose.choices)
    wording = models.TextField()
    wording_version = models.CharField(max_length=20)
    given_by = models.CharField("who said yes", max_length=80)
    given_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    recorded_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    # None: the family itself, on its private page.
    withdrawn_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    key = models.UUIDField(default=uuid.uuid4)

    objects = consent_querysets.ConsentQuerySet.as_manager()

    class Meta:
        ordering = ["-given_at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["family", "key"], name="consent_key_once"),
            models.UniqueConstraint(
                fields=["family", "purpose"],
                condition=Q(withdrawn_at=None),
                name="consent_one_standing_a_purpose",
            ),
            models.CheckConstraint(
                condition=Q(withdrawn_at=None) | Q(withdrawn_at__gte=F("given_at")),
                name="consent_withdrawn_after_given",
            ),
        ]
        indexes = [
            models.Index(
                fields=["purpose", "family"],
                name="consent_taken_back",
                condition=Q(withdrawn_at__isnull=False),
            )
        ]

    def __str__(self) -> str:
        return f"{self.family}: {self.purpose}"
