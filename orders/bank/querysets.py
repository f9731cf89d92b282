from typing import TYPE_CHECKING, Self

from django.db import models
from django.db.models import Q

if TYPE_CHECKING:
    from orders.bank.models import StatementLine  # noqa: F401


class StatementLineQuerySet(models.QuerySet["StatementLine"]):
    def waiting(self) -> Self:
        """Filter lines neither posted nor set aside; a line whose payment was reversed waits again."""
        return self.filter(
            Q(payment=None) | Q(payment__reversed_by__isnull=False), set_aside_why=""
        ).order_by("-booked_on", "pk")
