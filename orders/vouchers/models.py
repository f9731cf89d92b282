"""Vouchers, bought by one family for another and used to pay for orders."""

import uuid

from django.db import models
from django.db.models import F, Q
from django.urls import reverse
from django.utils.translation import gettext as _

from orders.vouchers import voucher_redemption
from orders.vouchers.querysets import VoucherQuerySet
from studio import references, units
from studio.accounts.models import Unit, User


class Voucher(models.Model):
    """A voucher worth `value_minor`, sold for `price_minor`; payments by it reduce what is left."""

    class Method(models.TextChoices):
        CASH = "cash", "cash"
        CARD = "card", "card"
        TRANSFER = "transfer", "bank transfer"

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="vouchers")
    code = models.CharField(max_length=8, unique=True)
    value_minor = models.PositiveIntegerField("worth")
    price_minor = models.PositiveIntegerField("sold for")
    sold_on = models.DateField("sold on")
    method = models.CharField("paid by", max_length=10, choices=Method.choices)
    buyer = models.CharField("bought by", max_length=80)
    for_whom = models.CharField("for", max_length=80, blank=True)
    words = models.CharField("words on the card", max_length=160, blank=True)
    expires_on = models.DateField("good until")
    # For goods of one VAT rate only: taxed when sold, at the price paid (VATA 1994 Sch 10B).
    taxed_when_sold = models.BooleanField(default=False)
    vat_percent = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    vat_minor = models.PositiveIntegerField(default=0)
    cancelled_on = models.DateField(null=True, blank=True)
    cancelled_why = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    key = models.UUIDField(default=uuid.uuid4)

    objects = VoucherQuerySet.as_manager()

    class Meta:
        ordering = ["-sold_on", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["unit", "key"], name="voucher_key_once"),
            models.CheckConstraint(
                condition=Q(value_minor__gt=0) & Q(price_minor__lte=F("value_minor")),
                name="voucher_worth_its_price",
            ),
            models.CheckConstraint(
                condition=Q(expires_on__gt=F("sold_on")), name="voucher_expires_after_sale"
            ),
            models.CheckConstraint(
                condition=(Q(cancelled_on=None) & Q(cancelled_why=""))
                | (Q(cancelled_on__isnull=False) & ~Q(cancelled_why="")),
                name="voucher_cancelled_says_why",
            ),
            models.CheckConstraint(
                condition=Q(vat_percent=None, vat_minor=0) | Q(taxed_when_sold=True),
                name="voucher_vat_only_when_sold",
            ),
        ]

    def __str__(self) -> str:
        return self.display_code

    def get_absolute_url(self) -> str:
        return reverse("orders:voucher", args=[self.code])

    @property
    def invoice_label(self) -> str:
        """The line by which this voucher reduces an invoice; without the word VAT if sold untaxed."""
        label = (
            _("Voucher %(code)s, charged when it was sold on %(day)s")
            if self.vat_percent is None
            else _("Voucher %(code)s, taxed when it was sold on %(day)s")
        )
        return label % {"code": self.display_code, "day": units.full_day(self.sold_on)}

    @property
    def sold(self) -> voucher_redemption.Sold:
        return voucher_redemption.Sold(self.value_minor, self.price_minor, self.vat_minor)

    @property
    def display_code(self) -> str:
        """The code as shown to people, in two groups."""
        return references.display(self.code)
