from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower
from django.urls import reverse
from django.utils import timezone

from studio.accounts.models import Unit
from studio.families import querysets as families_querysets
from studio.versions import Versioned


class Family(Versioned):
    """A customer: the children with one address and one person to contact."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="families")
    name = models.CharField("family name", max_length=80)
    contact_name = models.CharField("who to speak to", max_length=80)
    email = models.EmailField("e-mail address", blank=True)
    phone = models.CharField(max_length=30, blank=True)
    address = models.TextField(blank=True)
    postcode = models.CharField(max_length=12, blank=True)
    note = models.TextField(blank=True, help_text="Parking, the dog, nap times.")
    added_at = models.DateTimeField(default=timezone.now, editable=False)

    objects = families_querysets.FamilyQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "families"
        indexes = [models.Index("unit", Lower("name"), "id", name="family_by_name")]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("studio:family", args=[self.pk])


class Child(Versioned):
    family = models.ForeignKey(Family, on_delete=models.PROTECT, related_name="children")
    first_name = models.CharField(max_length=60)
    born_on = models.DateField("date of birth")
    due_on = models.DateField(
        "due date, if born early",
        null=True,
        blank=True,
        help_text="Only if the baby came before 37 weeks: the size is then judged by the due date.",
    )

    objects = families_querysets.ChildQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "children"
        ordering = ["born_on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(due_on=None) | Q(due_on__gt=F("born_on")),
                name="child_due_after_birth",
            ),
        ]

    def __str__(self) -> str:
        return self.first_name
