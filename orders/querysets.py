"""Query sets of the models of this app. They import no model: sums go by the names of relations."""

from datetime import date, datetime
from typing import TYPE_CHECKING, Self

from dateutil.relativedelta import relativedelta
from django.db import models
from django.db.models import F, OuterRef, Q, Subquery, Sum, Value
from django.db.models.expressions import Combinable
from django.db.models.functions import Coalesce

from studio.stages import CLOSED, OPEN, Stage

if TYPE_CHECKING:
    from orders.models import (  # noqa: F401
        Invoice,
        Order,
        ParentLink,
        Payment,
        PriceList,
        StatementLine,
        Voucher,
    )


class PriceListQuerySet(models.QuerySet["PriceList"]):
    def in_force_on(self, day: date) -> "PriceList | None":
        """The newest list that begins by `day`; None before the first."""
        return self.filter(valid_from__lte=day).order_by("-valid_from").first()


class OrderQuerySet(models.QuerySet["Order"]):
    def for_page(self) -> Self:
        """Load all that a page says of an order. Six queries at most, for any number of orders."""
        return self.select_related("price_list").prefetch_related(
            "lines__price", "payments__voucher", "invoices"
        )

    def unsettled(self) -> Self:
        return self.filter(settled=False)

    def with_balance(self) -> Self:
        """Add `total`, `paid` and `balance` in minor units, worked out by the database."""
        return self.annotate(
            total=self._sum(F("lines__quantity") * F("lines__unit_minor")),
            paid=self._sum(F("payments__amount_minor")),
        ).annotate(balance=F("total") - F("paid"))

    def with_taxed_before(self) -> Self:
        """Add `taxed_before`, what vouchers pay that were taxed when they were sold."""
        by_voucher = Q(payments__taxed_before=True)
        return self.annotate(taxed_before=self._sum(F("payments__amount_minor"), by_voucher))

    def with_invoice(self) -> Self:
        """Add `invoiced_on`, `number` and `due_on` of the invoice in force; None without one."""
        in_force = self._itself().filter(invoices__kind="invoice", invoices__credited_by=None)
        return self.annotate(
            invoiced_on=Subquery(in_force.values("invoices__issued_on")[:1]),
            number=Subquery(in_force.values("invoices__number")[:1]),
            due_on=Subquery(in_force.values("invoices__due_on")[:1]),
        )

    def owed_now(self) -> Self:
        """To be asked for: invoiced, ready or gone and not paid; and what goes back to a family."""
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
        """Of jobs in hand, not asked for yet: the newest promise last."""
        return (
            self.unsettled()
            .with_balance()
            .with_invoice()
            .filter(balance__gt=0, invoiced_on=None, job__stage__in=OPEN)
            .exclude(job__stage=Stage.READY)
            .order_by(F("job__promised_on").asc(nulls_last=True), "pk")
        )

    def sitting_before(self, moment: datetime) -> Self:
        """Unsettled, with a planned sitting before `moment`; adds `sits_at`."""
        return (
            self.unsettled()
            .with_balance()
            .filter(job__sittings__state="planned", job__sittings__starts_at__lt=moment)
            .annotate(sits_at=F("job__sittings__starts_at"))
            .order_by("sits_at", "pk")
        )

    def _itself(self) -> "OrderQuerySet":
        """The row of the outer query, to sum up or choose among what hangs on it."""
        return self.model.objects.filter(pk=OuterRef("pk")).order_by()

    def _sum(self, amount: Combinable, only: Q | None = None) -> Coalesce:
        summed = self._itself().values("pk").annotate(sum=Sum(amount, filter=only)).values("sum")
        return Coalesce(Subquery(summed), Value(0))


class InvoiceQuerySet(models.QuerySet["Invoice"]):
    def newest_first(self) -> Self:
        return self.order_by("-issued_on", "-pk")

    def with_people(self) -> Self:
        return self.select_related("order__job__family", "credits", "credited_by", "reduces")

    def standing(self) -> Self:
        """Invoices that no credit note has cancelled."""
        return self.filter(kind="invoice", credited_by=None)


class PaymentQuerySet(models.QuerySet["Payment"]):
    def newest_first(self) -> Self:
        return self.order_by("-received_on", "-pk")

    def with_people(self) -> Self:
        return self.select_related("order__job__family", "reverses", "reversed_by", "receipt")

    def in_month_of(self, day: date) -> Self:
        first, next_first = month_of(day)
        return self.filter(received_on__gte=first, received_on__lt=next_first)


class ParentLinkQuerySet(models.QuerySet["ParentLink"]):
    def open_at(self, now: datetime) -> Self:
        return self.filter(revoked_at=None, expires_at__gt=now)


class StatementLineQuerySet(models.QuerySet["StatementLine"]):
    def waiting(self) -> Self:
        """Not posted and not set aside; a line whose payment was reversed waits again."""
        return self.filter(
            Q(payment=None) | Q(payment__reversed_by__isnull=False), set_aside_why=""
        ).order_by("-booked_on", "pk")


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


def month_of(day: date) -> tuple[date, date]:
    """Its first day, and that of the next one."""
    first = day.replace(day=1)
    return first, first + relativedelta(months=1)
