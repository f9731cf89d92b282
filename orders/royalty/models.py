"""Royalty terms and returns sent; each paper is in one return only."""

from typing import Any

from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from orders.quotes.frozen_content import with_dates
from studio.accounts.models import Unit, User


class RoyaltyTerms(models.Model):
    """Terms agreed from a day. Percentages are of net takings, the minimum is for one return."""

    class Basis(models.TextChoices):
        INVOICED = "invoiced", "what was invoiced"
        RECEIVED = "received", "what was received"

    class VoucherAt(models.TextChoices):
        SALE = "sale", "when they are sold"
        USE = "use", "when they are used"

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="royalty_terms")
    valid_from = models.DateField("in force from")
    royalty_percent = models.DecimalField("royalty, percent", max_digits=5, decimal_places=2)
    levy_percent = models.DecimalField("levy for the fund, percent", max_digits=5, decimal_places=2)
    minimum_minor = models.PositiveIntegerField("least royalty of a return", default=0)
    vat_percent = models.DecimalField(
        "VAT on the fee, percent", max_digits=5, decimal_places=2, null=True, blank=True
    )
    basis = models.CharField("reckoned by", max_length=10, choices=Basis.choices)
    voucher_at = models.CharField("vouchers count", max_length=10, choices=VoucherAt.choices)
    every_months = models.PositiveSmallIntegerField("a return every, months", default=1)

    class Meta:
        verbose_name_plural = "royalty terms"
        ordering = ["-valid_from"]
        constraints = [
            models.UniqueConstraint(fields=["unit", "valid_from"], name="royalty_terms_once_a_day"),
            models.CheckConstraint(
                condition=Q(royalty_percent__gte=0, royalty_percent__lte=100)
                & Q(levy_percent__gte=0, levy_percent__lte=100),
                name="royalty_percent",
            ),
            models.CheckConstraint(
                condition=Q(every_months__in=(1, 3, 6, 12)), name="royalty_period_in_months"
            ),
        ]

    def __str__(self) -> str:
        return f"royalty terms from {self.valid_from}"


class RoyaltyReturn(models.Model):
    """A return as sent. Never edited: corrections go into the next one."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="royalty_returns")
    first_on = models.DateField()
    last_on = models.DateField()
    sent_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    payable_minor = models.IntegerField()
    # The frozen content of the return, with the terms applied.
    content = models.JSONField()

    class Meta:
        ordering = ["-last_on"]
        constraints = [
            models.UniqueConstraint(fields=["unit", "last_on"], name="royalty_return_once"),
            models.CheckConstraint(
                condition=Q(last_on__gte=F("first_on")), name="royalty_return_has_days"
            ),
        ]

    def __str__(self) -> str:
        return f"return {self.first_on} to {self.last_on}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise TypeError("A return that was sent is never edited: the next one corrects it.")
        super().save(*args, **kwargs)

    def get_absolute_url(self) -> str:
        return reverse("orders:royalty_return", args=[self.pk])

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise TypeError("A return that was sent is never deleted: the next one corrects it.")

    @property
    def readable(self) -> dict[str, Any]:
        """The frozen content with its days as dates."""
        shown: dict[str, Any] = with_dates(self.content)
        return shown


class RoyaltyLine(models.Model):
    """One paper counted in a return, and in no other."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="+")
    sent_in = models.ForeignKey(RoyaltyReturn, on_delete=models.PROTECT, related_name="lines")
    source = models.CharField(max_length=30)
    on = models.DateField()
    gross_minor = models.IntegerField()
    vat_minor = models.IntegerField()

    class Meta:
        ordering = ["on", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["unit", "source"], name="royalty_line_once"),
        ]

    def __str__(self) -> str:
        return self.source
