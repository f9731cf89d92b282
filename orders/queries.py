"""Reads of prices, orders, invoices and payments."""

from datetime import date, datetime
from typing import TYPE_CHECKING, Self

from django.db import models
from django.db.models import F, OuterRef, Subquery, Sum, Value
from django.db.models.functions import Coalesce

if TYPE_CHECKING:
    from orders.models import Invoice, Order, ParentLink, Payment, PriceList  # noqa: F401


class PriceListQuerySet(models.QuerySet["PriceList"]):
    def in_force_on(self, day: date) -> "PriceList | None":
        """The newest list that begins by `day`; None before the first."""
        return self.filter(valid_from__lte=day).order_by("-valid_from").first()


class OrderQuerySet(models.QuerySet["Order"]):
    def unsettled(self) -> Self:
        return self.filter(settled=False)

    def with_balance(self) -> Self:
        """Adds `total`, `paid` and `balance` in minor units, worked out by the database."""
        from orders.models import OrderLine, Payment  # noqa: PLC0415 - models import this module

        lines = (
            OrderLine.objects.filter(order=OuterRef("pk"))
            .order_by()
            .values("order")
            .annotate(sum=Sum(F("quantity") * F("unit_minor")))
            .values("sum")
        )
        payments = (
            Payment.objects.filter(order=OuterRef("pk"))
            .order_by()
            .values("order")
            .annotate(sum=Sum("amount_minor"))
            .values("sum")
        )
        return self.annotate(
            total=Coalesce(Subquery(lines), Value(0)),
            paid=Coalesce(Subquery(payments), Value(0)),
        ).annotate(balance=F("total") - F("paid"))


class InvoiceQuerySet(models.QuerySet["Invoice"]):
    def newest_first(self) -> Self:
        return self.order_by("-issued_on", "-pk")

    def standing(self) -> Self:
        """Invoices that no credit note has cancelled."""
        return self.filter(kind="invoice", credited_by=None)


class PaymentQuerySet(models.QuerySet["Payment"]):
    def newest_first(self) -> Self:
        return self.order_by("-received_on", "-pk")


class ParentLinkQuerySet(models.QuerySet["ParentLink"]):
    def open_at(self, now: datetime) -> Self:
        return self.filter(revoked_at=None, expires_at__gt=now)
