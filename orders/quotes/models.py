"""Quotes that families accepted, and their answers on the family page."""

import uuid
from typing import Any

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_noop

from orders.order.models import Order
from studio.accounts.models import Unit, User


class Quote(models.Model):
    """A price that a family accepted. Never edited: a later price is another quote."""

    class Method(models.TextChoices):
        SITTING = "sitting", gettext_noop("at the sitting")
        PHONE = "phone", gettext_noop("by telephone")
        WRITTEN = "written", gettext_noop("in writing")
        LINK = "link", gettext_noop("on their own page")

    # Recorded by the studio; LINK is the family itself on its page.
    BY_STUDIO = [Method.SITTING, Method.PHONE, Method.WRITTEN]

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="quotes")
    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="quotes")
    accepted_at = models.DateTimeField()
    method = models.CharField("how they accepted it", max_length=10, choices=Method.choices)
    total_minor = models.PositiveIntegerField()
    # The accepted lines with their price explanations.
    content = models.JSONField()
    # The precontract information as the family saw it; empty if recorded by the studio.
    precontract_information = models.JSONField(default=list, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    key = models.UUIDField(default=uuid.uuid4)

    class Meta:
        ordering = ["accepted_at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["order", "key"], name="quote_key_once"),
            models.CheckConstraint(
                condition=Q(method="link", by=None) | (~Q(method="link") & Q(by__isnull=False)),
                name="quote_by_the_family_or_somebody",
            ),
        ]

    def __str__(self) -> str:
        return f"accepted {self.accepted_at:%Y-%m-%d}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise TypeError("An accepted quote is never edited: accept the new price instead.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise TypeError("An accepted quote is never deleted.")


class FamilyAnswer(models.Model):
    """Acceptance or refusal of a price on the family page; on Today until the owner has noted it."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="family_answers")
    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="answers")
    answered_at = models.DateTimeField()
    # The accepted quote, None if the family declined.
    quote = models.OneToOneField(
        Quote, on_delete=models.PROTECT, null=True, blank=True, related_name="answer"
    )
    total_minor = models.PositiveIntegerField()
    words = models.CharField("what they would like instead", max_length=200, blank=True)
    noted_at = models.DateTimeField(null=True, blank=True)
    key = models.UUIDField(default=uuid.uuid4)

    class Meta:
        ordering = ["answered_at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["order", "key"], name="family_answer_key_once"),
        ]
        indexes = [
            models.Index(fields=["unit"], name="family_answer_new", condition=Q(noted_at=None))
        ]

    def __str__(self) -> str:
        return f"{'yes' if self.said_yes else 'no'} {self.answered_at:%Y-%m-%d}"

    @property
    def said_yes(self) -> bool:
        """Whether the family accepted the price."""
        return self.quote_id is not None
