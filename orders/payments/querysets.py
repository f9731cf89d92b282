from datetime import date
from typing import TYPE_CHECKING, Self

from dateutil.relativedelta import relativedelta
from django.db import models

if TYPE_CHECKING:
    from orders.payments.models import Payment  # noqa: F401


class PaymentQuerySet(models.QuerySet["Payment"]):
    def newest_first(self) -> Self:
        return self.order_by("-received_on", "-pk")

    def with_people(self) -> Self:
        """Load job, family, reversals and receipt with each payment."""
        return self.select_related("order__job__family", "reverses", "reversed_by", "receipt")

    def in_month_of(self, day: date) -> Self:
        """Filter payments received in the month that contains `day`."""
        first, next_first = month_of(day)
        return self.filter(received_on__gte=first, received_on__lt=next_first)


def month_of(day: date) -> tuple[date, date]:
    """Return the first day of the month of `day`, and of the next month."""
    first = day.replace(day=1)
    return first, first + relativedelta(months=1)
