"""One order: what it comes to, its look, its invoice."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db.models import F, Sum

from orders.papers import Received
from studio import money
from studio.stages import Stage

if TYPE_CHECKING:
    from orders.models import Invoice, Order, Price
    from studio.models import Job, Unit

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
    total_minor = order.lines.aggregate(sum=Sum(F("quantity") * F("unit_minor")))["sum"] or 0
    paid_minor = order.payments.aggregate(sum=Sum("amount_minor"))["sum"] or 0
    return Sums(total_minor, paid_minor, deposit_of(order.unit, total_minor))


def deposit_of(unit: "Unit", total_minor: int) -> int:
    """What the unit asks for in advance of a total; never below zero."""
    return max(0, money.round_half_up(Decimal(total_minor) * unit.deposit_percent / 100))


def balance_of(order: "Order") -> int:
    """What is still to pay in minor units; below zero: what goes back to the family."""
    return sums(order).balance_minor


def received(order: "Order") -> list[Received]:
    """The payments that count, oldest first: a reversed one and its reversal are both left out."""
    rows = order.payments.filter(reversed_by=None).order_by("received_on", "pk")
    return [
        Received(row.received_on, row.amount_minor, row.get_method_display())
        for row in rows
        if row.reverses_id is None  # asked of SQLite, it would read the whole unique index of NULLs
    ]


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


def prices_every_piece(order: "Order") -> bool:
    """Whether the lines charge for exactly the pieces of the job, or for what was kept of it."""
    if order.job.stage == Stage.CALLED_OFF:
        return True
    casts = order.lines.filter(price__kind="casts")
    charged = casts.aggregate(sum=Sum(F("quantity") * F("price__pieces")))["sum"] or 0
    return charged == order.job.pieces.on_the_job().count()
