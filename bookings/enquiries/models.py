import uuid
from datetime import datetime

from django.db import models
from django.db.models import Q

from bookings.enquiries import querysets as enquiries_querysets
from studio.accounts.models import Unit
from studio.families.models import Family

ANSWERED_WITHIN_DAYS = 2


class Enquiry(models.Model):
    """An enquiry of a possible customer: by phone, from the web, or from the network office."""

    class Source(models.TextChoices):
        OFFICE = "office", "sent on by the network office"
        WEB = "web", "our web page"
        PHONE = "phone", "telephone"
        FAIR = "fair", "a fair"
        WORD = "word", "word of mouth"
        BACK = "back", "a family that came before"

    class Answer(models.TextChoices):
        FAMILY = "family", "became a family"
        DECLINED = "declined", "came to nothing"

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="enquiries")
    received_at = models.DateTimeField()
    name = models.CharField(max_length=80)
    phone = models.CharField(max_length=30, blank=True)
    email = models.EmailField("e-mail address", blank=True)
    postcode = models.CharField(max_length=12, blank=True)
    words = models.TextField("what they asked", blank=True)
    source = models.CharField("how they found us", max_length=10, choices=Source.choices)
    answer = models.CharField(max_length=10, choices=Answer.choices, blank=True)
    answer_why = models.CharField(max_length=200, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    family = models.ForeignKey(
        Family, on_delete=models.PROTECT, null=True, blank=True, related_name="enquiries"
    )
    key = models.UUIDField(default=uuid.uuid4)

    objects = enquiries_querysets.EnquiryQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "enquiries"
        constraints = [
            models.UniqueConstraint(fields=["unit", "key"], name="enquiry_key_once"),
            models.CheckConstraint(
                condition=~Q(phone="") | ~Q(email=""), name="enquiry_can_be_answered"
            ),
            models.CheckConstraint(
                condition=~Q(answer="family") | Q(family__isnull=False),
                name="enquiry_answer_names_family",
            ),
        ]
        indexes = [
            models.Index(
                fields=["unit", "received_at"], name="enquiry_waiting", condition=Q(answer="")
            ),
            models.Index(fields=["unit", "-answered_at"], name="enquiry_answered"),
        ]

    def __str__(self) -> str:
        return self.name

    def why_late(self, now: datetime) -> str:
        """Sentence if it has waited too long for an answer, else ""."""
        days = (now - self.received_at).days
        return f"Has waited {days} days for an answer." if days >= ANSWERED_WITHIN_DAYS else ""
