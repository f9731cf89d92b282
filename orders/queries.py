"""Reads of prices, orders, invoices and payments."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Self

from django.db import models
from django.db.models import F, OuterRef, Subquery, Sum, Value
from django.db.models.functions import Coalesce

from orders.papers import Received
from studio import money
from studio.stages import Stage

if TYPE_CHECKING:
    from orders.models import (  # noqa: F401 - in the names of the query sets
        Invoice,
        Order,
        ParentLink,
        Payment,
        Price,
        PriceList,
    )
    from studio.models import Job, Unit

BEFORE_FRAMING = (Stage.BOOKED, Stage.CLAY_REST, Stage.CASTING, Stage.DRYING)


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


@dataclass(frozen=True, slots=True)
class Sums:
    """An order in minor units. `balance_minor` is below zero where the family gets money back."""

    total_minor: int
    paid_minor: int
    deposit_minor: int
    """What is asked for in advance, of the whole; half up."""

    @property
    def balance_minor(self) -> int:
        return self.total_minor - self.paid_minor

    @property
    def deposit_left_minor(self) -> int:
        return max(0, min(self.deposit_minor - self.paid_minor, self.balance_minor))


@dataclass(frozen=True, slots=True)
class Choices:
    """The backings and finishes of an order's price list."""

    backings: Sequence["Price"]
    finishes: Sequence["Price"]


def sums(order: "Order") -> Sums:
    """Two queries."""
    total_minor = order.lines.aggregate(sum=Sum(F("quantity") * F("unit_minor")))["sum"] or 0
    paid_minor = order.payments.aggregate(sum=Sum("amount_minor"))["sum"] or 0
    return Sums(total_minor, paid_minor, deposit_of(order.unit, total_minor))


def deposit_of(unit: "Unit", total_minor: int) -> int:
    """What the unit asks for in advance of a total; never below zero."""
    return max(0, money.round_half_up(Decimal(total_minor) * unit.deposit_percent / 100))


def balance_of(order: "Order") -> int:
    """What is still to pay in minor units; below zero: what goes back to the family."""
    return sums(order).balance_minor


def choices(order: "Order") -> Choices:
    """One query."""
    prices = list(order.price_list.prices.filter(kind__in=("backing", "finish")))
    return Choices(
        backings=[price for price in prices if price.kind == "backing"],
        finishes=[price for price in prices if price.kind == "finish"],
    )


def can_choose(job: "Job") -> bool:
    """Whether the family may still choose backing and finish: until framing starts, not invoiced."""
    if job.stage not in BEFORE_FRAMING:
        return False
    order = getattr(job, "order", None)
    return order is not None and standing_invoice(order) is None


def standing_invoice(order: "Order") -> "Invoice | None":
    return order.invoices.standing().first()


def received(order: "Order") -> list[Received]:
    """The payments that count, oldest first: a reversed one and its reversal are both left out."""
    rows = order.payments.filter(reverses=None, reversed_by=None).order_by("received_on", "pk")
    return [Received(row.received_on, row.amount_minor, row.get_method_display()) for row in rows]
