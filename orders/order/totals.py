"""One order: what it comes to, its look, its invoice."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from studio import money
from studio.stages import BEFORE_FRAMING, Stage

if TYPE_CHECKING:
    from orders.invoices.models import Invoice
    from orders.order.models import Order
    from orders.prices.models import Price
    from studio.accounts.models import Unit
    from studio.jobs.models import Job


FINISHED = (Stage.READY, Stage.HANDED_OVER)


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
    """Return the job's order as its pages read it; None while it has no price. Six queries at most."""
    found = job.unit.orders.for_page().filter(job=job).first()
    if found:
        job.order = found  # whoever asks the job for it finds this one
    return found


def sums(order: "Order") -> Sums:
    """What the order comes to and what was paid of it. No query after `for_page`, else two."""
    total_minor = sum(line.amount_minor for line in order.lines.all())
    paid_minor = sum(payment.amount_minor for payment in order.payments.all())
    return Sums(total_minor, paid_minor, deposit_of(order.unit, total_minor))


def deposit_of(unit: "Unit", total_minor: int) -> int:
    """What the unit asks for in advance of a total, a fixed sum or a part; never below zero or above it."""
    if unit.deposit_fixed_minor is not None:
        return max(0, min(unit.deposit_fixed_minor, total_minor))
    return max(0, money.round_half_up(Decimal(total_minor) * unit.deposit_percent / 100))


def balance_of(order: "Order") -> int:
    """What is still to pay in minor units; below zero: what goes back to the family."""
    return sums(order).balance_minor


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
    """The invoice that no credit note has cancelled. No query after `for_page`, else one."""
    papers = order.invoices.all()
    cancelled = {paper.credits_id for paper in papers}
    in_force = (p for p in papers if p.kind == "invoice" and p.pk not in cancelled)
    return next(in_force, None)


def prices_every_piece(order: "Order") -> bool:
    """Whether the lines charge for exactly the pieces of the job, or for what was kept of it."""
    if order.job.stage == Stage.CALLED_OFF:
        return True
    charged = sum(
        line.quantity * line.price.pieces
        for line in order.lines.all()
        if line.price and line.price.kind == "casts"
    )
    return charged == sum(1 for piece in order.job.pieces.all() if not piece.left_off_at)
