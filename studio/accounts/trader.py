"""Abstract model with a unit's fields as a trader: VAT registration, payment terms and deposit."""

from django.db import models


class Trader(models.Model):
    payment_words = models.TextField(
        "how families pay",
        blank=True,
        help_text="Bank details or other ways to pay: printed on the invoice and the family's page.",
    )
    vat_number = models.CharField("VAT number", max_length=20, blank=True)
    vat_registered_on = models.DateField("registered for VAT from", null=True, blank=True)
    vat_left_on = models.DateField(
        "no longer registered from",
        null=True,
        blank=True,
        help_text="Leave it empty while you are registered.",
    )
    tax_name = models.CharField(
        "name of the tax on sales",
        max_length=12,
        default="VAT",
        help_text="As your papers call it: VAT, GST, IVA.",
    )
    payment_days = models.PositiveSmallIntegerField("invoices to be paid within, days", default=14)
    deposit_percent = models.PositiveSmallIntegerField("deposit asked for, percent", default=25)
    deposit_fixed_minor = models.PositiveIntegerField(
        "or a fixed deposit",
        null=True,
        blank=True,
        help_text="Asked for instead of the percentage, never above the price. Keep it small.",
    )
    deposit_days = models.PositiveSmallIntegerField(
        "deposit due, days before the sitting", default=0
    )

    class Meta:
        abstract = True
