import uuid
from typing import Any

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_noop

from orders.invoices import querysets as invoices_querysets
from orders.order.models import Order
from studio.accounts.models import Unit, User
from studio.jobs.models import Job


class NumberSeries(models.Model):
    """The last number used for one kind of paper; locking its row keeps numbers without gaps."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="number_series")
    prefix = models.CharField(max_length=8)
    last = models.PositiveIntegerField(default=0)

    class Meta:
        verbose_name_plural = "number series"
        constraints = [
            models.UniqueConstraint(fields=["unit", "prefix"], name="series_once_a_unit"),
        ]

    def __str__(self) -> str:
        return f"{self.prefix}{self.last}"


class Invoice(models.Model):
    """An issued invoice or credit note. Never edited: a correction is a credit note of its own."""

    class Kind(models.TextChoices):
        INVOICE = "invoice", gettext_noop("Invoice")
        CREDIT = "credit", gettext_noop("Credit note")

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="invoices")
    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="invoices")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    number = models.CharField(max_length=20)
    issued_on = models.DateField()
    supplied_on = models.DateField("date of supply")
    due_on = models.DateField("to be paid by", null=True, blank=True)
    credits = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="credited_by"
    )
    # For a partial credit note: the invoice that it reduces and that remains in force.
    reduces = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="reduced_by"
    )
    why = models.CharField(max_length=200, blank=True)
    # Below zero for a credit note; minor units.
    total_minor = models.IntegerField()
    vat_minor = models.IntegerField(default=0)
    # The frozen content of the paper, see invoice_content.
    content = models.JSONField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    key = models.UUIDField(default=uuid.uuid4)

    objects = invoices_querysets.InvoiceQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["unit", "number"], name="invoice_number_once"),
            models.UniqueConstraint(fields=["unit", "key"], name="invoice_key_once"),
            models.CheckConstraint(
                condition=Q(kind="invoice", credits=None, reduces=None)
                | (Q(kind="credit", credits__isnull=False, reduces=None) & ~Q(why=""))
                | (Q(kind="credit", credits=None, reduces__isnull=False) & ~Q(why="")),
                name="credit_note_names_its_invoice_and_why",
            ),
        ]
        # Covers the amounts, so that turnover is read from the index alone.
        indexes = [
            models.Index(
                fields=["unit", "-issued_on", "total_minor", "vat_minor"], name="invoice_newest"
            )
        ]

    def __str__(self) -> str:
        return self.number

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise TypeError("An issued invoice is never edited: issue a credit note.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise TypeError("An issued invoice is never deleted: issue a credit note.")

    @property
    def job(self) -> Job:
        return self.order.job


class InvoicePdf(models.Model):
    """The archived PDF of an issued paper, with digests to detect changes.

    It is in the database so that a back-up of the books contains it, and in its own table so that
    lists of invoices do not load it.
    """

    invoice = models.OneToOneField(
        Invoice, on_delete=models.PROTECT, primary_key=True, related_name="kept"
    )
    pdf = models.BinaryField()
    sha256 = models.CharField(max_length=64)
    # Digest of the frozen content from which it was rendered.
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
