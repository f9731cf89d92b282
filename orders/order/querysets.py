from datetime import datetime
from typing import TYPE_CHECKING, Self

from django.db import models
from django.db.models import F, OuterRef, Q, Subquery, Sum, Value
from django.db.models.expressions import Combinable
from django.db.models.functions import Coalesce

from studio.stages import CLOSED, OPEN, Stage

if TYPE_CHECKING:
    from orders.order.models import Order  # noqa: F401


class OrderQuerySet(models.QuerySet["Order"]):
    """Orders and their balances; amounts are minor units."""

    def for_page(self) -> Self:
        """Load everything that a page shows of an order. Six queries at most, for any number of
        orders.
        """
        return self.select_related("price_list").prefetch_related(
            "lines__price", "payments__voucher", "invoices"
        )

    def unsettled(self) -> Self:
        """Filter orders whose balance is not zero."""
        return self.filter(settled=False)

    def with_balance(self) -> Self:
        """Add `total`, `paid` and `balance` in minor units, computed by the database."""
        return self.annotate(
            total=self._sum(F("lines__quantity") * F("lines__unit_minor")),
            paid=self._sum(F("payments__amount_minor")),
        ).annotate(balance=F("total") - F("paid"))

    def with_taxed_before(self) -> Self:
        """Add `taxed_before`: payments by vouchers that were taxed when sold, in minor units."""
        by_voucher = Q(payments__taxed_before=True)
        return self.annotate(taxed_before=self._sum(F("payments__amount_minor"), by_voucher))

    def with_invoice(self) -> Self:
        """Add `invoiced_on`, `number` and `due_on` of the invoice in force, None without one."""
        in_force = self._itself().filter(invoices__kind="invoice", invoices__credited_by=None)
        return self.annotate(
            invoiced_on=Subquery(in_force.values("invoices__issued_on")[:1]),
            number=Subquery(in_force.values("invoices__number")[:1]),
            due_on=Subquery(in_force.values("invoices__due_on")[:1]),
        )

    def owed_now(self) -> Self:
        """Filter balances to ask for (invoiced, ready or handed over) and refunds due, with their
        sums.
        """
        return (
            self.unsettled()
            .with_balance()
            .with_invoice()
            .filter(
                Q(balance__lt=0)
                | Q(balance__gt=0, invoiced_on__isnull=False)
                | Q(balance__gt=0, job__stage__in=(Stage.READY, *CLOSED))
            )
            .order_by(F("invoiced_on").asc(nulls_last=True), "job__opened_at", "pk")
        )

    def to_come(self) -> Self:
        """Filter balances of open jobs that are not due yet, the earliest promise first."""
        return (
            self.unsettled()
            .with_balance()
            .with_invoice()
            .filter(balance__gt=0, invoiced_on=None, job__stage__in=OPEN)
            .exclude(job__stage=Stage.READY)
            .order_by(F("job__promised_on").asc(nulls_last=True), "pk")
        )

    def sitting_before(self, moment: datetime) -> Self:
        """Filter unsettled orders with a planned sitting before `moment`; adds `sits_at`."""
        return (
            self.unsettled()
            .with_balance()
            .filter(job__sittings__state="planned", job__sittings__starts_at__lt=moment)
            .annotate(sits_at=F("job__sittings__starts_at"))
            .order_by("sits_at", "pk")
        )

    def _itself(self) -> "OrderQuerySet":
        """Return a query for the outer query's row, for subqueries over its relations."""
        return self.model.objects.filter(pk=OuterRef("pk")).order_by()

    def _sum(self, amount: Combinable, only: Q | None = None) -> Coalesce:
        summed = self._itself().values("pk").annotate(sum=Sum(amount, filter=only)).values("sum")
        return Coalesce(Subquery(summed), Value(0))
