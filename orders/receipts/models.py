import uuid
from typing import Any

from django.db import models

from orders.payments.models import Payment
from studio.accounts.models import Unit, User


class Receipt(models.Model):
    """A receipt for one payment, numbered without gaps. Never edited."""

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
