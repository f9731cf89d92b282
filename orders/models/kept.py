"""What is kept of issued papers: their PDFs, the receipts of payments, and the tax law's dated sums."""

import uuid
from typing import Any

from django.db import models
from django.db.models import F, Q

from orders.models.sales import Invoice, Payment
from studio.models import Unit, User


class InvoicePdf(models.Model):
    """The PDF of an issued paper as it was first written, with the digests that say it is whole.

    In the database: a back-up of the books holds the papers too. A table of its own: lists of
    invoices never read it.
    """

    invoice = models.OneToOneField(
        Invoice, on_delete=models.PROTECT, primary_key=True, related_name="kept"
    )
    pdf = models.BinaryField()
    sha256 = models.CharField(max_length=64)
    # Of the frozen content from which it was written.
    content_sha256 = models.CharField(max_length=64)
    made_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"PDF of {self.invoice}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise TypeError("A kept paper is never written again.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise TypeError("A kept paper is never deleted.")


class Receipt(models.Model):
    """That money was received: numbered without gaps, written once for a payment."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="receipts")
    payment = models.OneToOneField(Payment, on_delete=models.PROTECT, related_name="receipt")
    number = models.CharField(max_length=20)
    issued_on = models.DateField()
    content = models.JSONField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    key = models.UUIDField(default=uuid.uuid4)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["unit", "number"], name="receipt_number_once"),
            models.UniqueConstraint(fields=["unit", "key"], name="receipt_key_once"),
        ]

    def __str__(self) -> str:
        return self.number

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise TypeError("A receipt is never edited: reverse its payment.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise TypeError("A receipt is never deleted: reverse its payment.")


class VatThreshold(models.Model):
    """From a day on: the turnover of twelve months above which a trader must register, and below
    which a registered one may leave; law changes them.
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
