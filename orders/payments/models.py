import uuid
from typing import Any

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_noop

from orders.order.models import Order
from orders.payments import querysets as payments_querysets
from studio.accounts.models import Unit, User
from studio.jobs.models import Job


class Payment(models.Model):
    """Money received or (below zero) paid back, in minor units. Never edited: reversed."""

    class Method(models.TextChoices):
        CASH = "cash", gettext_noop("cash")
        CARD = "card", gettext_noop("card")
        TRANSFER = "transfer", gettext_noop("bank transfer")
        VOUCHER = "voucher", gettext_noop("voucher")

    # Methods that bring money in; a voucher was paid for when it was sold.
    MONEY = [Method.CASH, Method.CARD, Method.TRANSFER]

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="payments")
    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="payments")
    amount_minor = models.IntegerField("amount")
    method = models.CharField("how", max_length=10, choices=Method.choices)
    received_on = models.DateField("when")
    reverses = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="reversed_by"
    )
    voucher = models.ForeignKey(
        "orders.Voucher", on_delete=models.PROTECT, null=True, blank=True, related_name="payments"
    )
    # Paid by a voucher taxed when sold: no further supply, so the amount is deducted from the invoice.
    taxed_before = models.BooleanField(default=False)
    why = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    key = models.UUIDField(default=uuid.uuid4)

    objects = payments_querysets.PaymentQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["order", "key"], name="payment_key_once"),
            models.CheckConstraint(
                condition=~Q(amount_minor=0) & (Q(amount_minor__gt=0) | ~Q(why="")),
                name="payment_back_says_why",
            ),
            models.CheckConstraint(
                condition=(Q(method="voucher") & Q(voucher__isnull=False))
                | (~Q(method="voucher") & Q(voucher=None)),
                name="payment_by_voucher_names_it",
            ),
            models.CheckConstraint(
                condition=Q(taxed_before=False) | Q(method="voucher"),
                name="payment_taxed_before_is_by_voucher",
            ),
        ]
        indexes = [models.Index(fields=["unit", "-received_on"], name="payment_newest")]

    def __str__(self) -> str:
        return f"{self.amount_minor} {self.get_method_display()}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise TypeError("A payment in the books is never edited: reverse it.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise TypeError("A payment in the books is never deleted: reverse it.")

    @property
    def job(self) -> Job:
        return self.order.job
