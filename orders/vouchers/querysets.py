from datetime import date
from typing import TYPE_CHECKING, Self

from django.db import models
from django.db.models import F, OuterRef, Q, Subquery, Sum, Value
from django.db.models.functions import Coalesce

from orders.payments.querysets import month_of

if TYPE_CHECKING:
    from orders.vouchers.models import Voucher  # noqa: F401


class VoucherQuerySet(models.QuerySet["Voucher"]):
    def with_left(self) -> Self:
        """Add `used`, what orders were paid by it, and `left`, in minor units."""
        itself = self.model.objects.filter(pk=OuterRef("pk")).order_by().values("pk")
        payments = itself.annotate(sum=Sum("payments__amount_minor")).values("sum")
        return self.annotate(used=Coalesce(Subquery(payments), Value(0))).annotate(
            left=F("value_minor") - F("used")
        )

    def standing(self) -> Self:
        return self.filter(cancelled_on=None)

    def sold_in_month_of(self, day: date) -> Self:
        """Without those that were taken back in the same month."""
        first, next_first = month_of(day)
        sold = self.filter(sold_on__gte=first, sold_on__lt=next_first)
        return sold.filter(Q(cancelled_on=None) | Q(cancelled_on__gte=next_first))

    def back_in_month_of(self, day: date) -> Self:
        """Taken back for their price, sold in a month before."""
        first, next_first = month_of(day)
        return self.filter(cancelled_on__gte=first, cancelled_on__lt=next_first, sold_on__lt=first)
