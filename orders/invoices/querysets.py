from typing import TYPE_CHECKING, Self

from django.db import models

if TYPE_CHECKING:
    from orders.invoices.models import Invoice  # noqa: F401


class InvoiceQuerySet(models.QuerySet["Invoice"]):
    def newest_first(self) -> Self:
        return self.order_by("-issued_on", "-pk")

    def with_people(self) -> Self:
        """Load job and family with each invoice."""
        return self.select_related("order__job__family", "credits", "credited_by", "reduces")

    def in_force(self) -> Self:
        """Filter invoices that no credit note has cancelled."""
        return self.filter(kind="invoice", credited_by=None)
