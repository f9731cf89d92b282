from django.db import models
from django.db.models import F, Q

from studio.accounts.models import Unit


class SpoilReason(models.Model):
    """A reason for spoiling in the unit's own words, offered from a day and perhaps until one."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="spoil_reasons")
    how = models.CharField("counted as", max_length=10)
    words = models.CharField("in your words", max_length=80)
    from_on = models.DateField("in use from")
    until_on = models.DateField("no longer from", null=True, blank=True)

    class Meta:
        ordering = ["words", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["unit", "words"],
                condition=Q(until_on=None),
                name="spoil_reason_words_once",
            ),
            models.CheckConstraint(
                condition=Q(until_on=None) | Q(until_on__gte=F("from_on")),
                name="spoil_reason_in_order",
            ),
        ]

    def __str__(self) -> str:
        return self.words


class Spoilage(models.Model):
    """What a spoiled cast cost, as computed when it was spoiled."""

    class Remedy(models.TextChoices):
        RE_POUR = "re_pour", "poured again"
        NEW_SITTING = "new_sitting", "new sitting"

    cast = models.OneToOneField(
        "production.Cast", on_delete=models.PROTECT, related_name="spoilage"
    )
    reason = models.ForeignKey(
        SpoilReason, on_delete=models.PROTECT, null=True, blank=True, related_name="spoilages"
    )
    remedy = models.CharField(max_length=12, choices=Remedy.choices)
    days_lost = models.PositiveSmallIntegerField("days lost")
    minutes_lost = models.PositiveSmallIntegerField("minutes lost")
    plaster_g = models.FloatField("plaster lost, g")
    # Of the plaster, by the stores' prices; None where the stores do not know it.
    cost_minor = models.PositiveIntegerField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(plaster_g__gte=0), name="spoilage_plaster_sane"),
        ]

    def __str__(self) -> str:
        return f"{self.cast}: {self.get_remedy_display()}"
