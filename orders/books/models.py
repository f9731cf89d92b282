from django.db import models
from django.db.models import F, Q

from studio.accounts.models import Unit


class VatThreshold(models.Model):
    """Thresholds in force from a day: the turnover of twelve months above which a trader must
    register for VAT, and below which a registered trader may leave.
    """

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="vat_thresholds")
    valid_from = models.DateField()
    register_minor = models.PositiveBigIntegerField("register above")
    leave_minor = models.PositiveBigIntegerField("may leave below")
    warn_percent = models.PositiveSmallIntegerField("warn from, percent", default=80)

    class Meta:
        ordering = ["-valid_from"]
        constraints = [
            models.UniqueConstraint(fields=["unit", "valid_from"], name="vat_threshold_once_a_day"),
            models.CheckConstraint(
                condition=Q(leave_minor__lte=F("register_minor"), register_minor__gt=0),
                name="vat_threshold_leave_below",
            ),
            models.CheckConstraint(
                condition=Q(warn_percent__gte=1, warn_percent__lte=100),
                name="vat_threshold_warns_in_time",
            ),
        ]

    def __str__(self) -> str:
        return f"from {self.valid_from}"
