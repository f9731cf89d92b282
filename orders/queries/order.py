"""One order: what it comes to, its look, its invoice."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from orders.vat import Received
from studio import money
from studio.kept import question
from studio.stages import Stage

if TYPE_CHECKING:
    from django.db.models import QuerySet

    from orders.models import Invoice, Order, OrderLine, Payment, Price
    from studio.kept import Row
    from studio.models import Job, Piece, Unit

BEFORE_FRAMING = (Stage.BOOKED, Stage.CLAY_REST, Stage.CASTING, Stage.DRYING)


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
    def back_minor(self) -> int:
        """What goes back to the family; 0 where it owes."""
        return max(0, -self.balance_minor)

    @property
    def deposit_left_minor(self) -> int:
        return max(0, min(self.deposit_minor - self.paid_minor, self.balance_minor))


@dataclass(frozen=True, slots=True)
class Choices:
    """The backings and finishes of an order's price list."""

    backings: Sequence["Price"]
    finishes: Sequence["Price"]


def order_of(job: "Job") -> "Order | None":
    """The job's order with what its pages read; None while it has no price. One query."""
    found = (
        job.unit.orders.filter(job=job)
        .select_related("price_list", "backing", "finish")  # job and unit are there already
        .first()
    )
    if found:
        job.order = found  # whoever asks the job for it finds this one
    return found


def sums(order: "Order") -> Sums:
    """Two queries."""
    total_minor = sum(quantity * unit_minor for quantity, unit_minor in _amounts.raw(order.pk))
    paid_minor = sum(amount_minor for (amount_minor,) in _paid.raw(order.pk))
    return Sums(total_minor, paid_minor, deposit_of(order.unit, total_minor))


def deposit_of(unit: "Unit", total_minor: int) -> int:
    """What the unit asks for in advance of a total, a fixed sum or a part; never below zero or above it."""
    if unit.deposit_fixed_minor is not None:
        return max(0, min(unit.deposit_fixed_minor, total_minor))
    return max(0, money.round_half_up(Decimal(total_minor) * unit.deposit_percent / 100))


def balance_of(order: "Order") -> int:
    """What is still to pay in minor units; below zero: what goes back to the family."""
    return sums(order).balance_minor


def money_in(order: "Order") -> int:
    """What came in as money and was not paid back, in minor units; vouchers aside."""
    return sum(order.payments.filter(voucher=None).values_list("amount_minor", flat=True))


def received(order: "Order") -> list[Received]:
    """The payments that count, oldest first: a reversed one and its reversal are both left out."""
    rows = order.payments.filter(reversed_by=None).select_related("voucher")
    return [
        Received(
            row.received_on,
            row.amount_minor,
            row.get_method_display(),
            row.voucher.words_when_used if row.taxed_before and row.voucher else "",
        )
        for row in rows.order_by("received_on", "pk")
        if row.reverses_id is None  # asked of SQLite, it would read the whole unique index of NULLs
    ]


def choices(order: "Order") -> Choices:
    """Two queries."""
    of_look = order.price_list.prices.filter(kind__in=("backing", "finish"))
    prices = list(of_look.prefetch_related("bands"))
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


def prices_every_piece(order: "Order") -> bool:
    """Whether the lines charge for exactly the pieces of the job, or for what was kept of it."""
    if order.job.stage == Stage.CALLED_OFF:
        return True
    charged: int = sum(quantity * pieces for quantity, pieces in _charged.raw(order.pk))
    return charged == len(_on_the_job.raw(order.job_id))


@question
def _amounts(order_pk: int) -> "QuerySet[OrderLine, Row]":
    from orders.models import OrderLine  # noqa: PLC0415 - models import this package

    return OrderLine.objects.filter(order=order_pk).values_list("quantity", "unit_minor")


@question
def _paid(order_pk: int) -> "QuerySet[Payment, Row]":
    from orders.models import Payment  # noqa: PLC0415 - models import this package

    return Payment.objects.filter(order=order_pk).values_list("amount_minor")


@question
def _charged(order_pk: int) -> "QuerySet[OrderLine, Row]":
    from orders.models import OrderLine  # noqa: PLC0415 - models import this package

    casts = OrderLine.objects.filter(order=order_pk, price__kind="casts")
    return casts.values_list("quantity", "price__pieces")


@question
def _on_the_job(job_pk: int) -> "QuerySet[Piece, Row]":
    from studio.models import Piece  # noqa: PLC0415 - its models import query sets too

    return Piece.objects.filter(job=job_pk).on_the_job().order_by().values_list("pk")
