"""Totals, balance, deposit and current invoice of one order."""

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
    """Totals of an order in minor units; `balance_minor` is below zero if the family gets money
    back.
    """

    total_minor: int
    paid_minor: int
    deposit_minor: int
    """What is asked for in advance, of the whole; half up."""

    @property
    def balance_minor(self) -> int:
        return self.total_minor - self.paid_minor

    @property
    def back_minor(self) -> int:
        """The refund due to the family in minor units, 0 if it owes money."""
        return max(0, -self.balance_minor)

    @property
    def deposit_left_minor(self) -> int:
        """What is left to pay of the deposit, in minor units; 0 or more."""
        return max(0, min(self.deposit_minor - self.paid_minor, self.balance_minor))


@dataclass(frozen=True, slots=True)
class Choices:
    """The backings and finishes of an order's price list."""

    backings: Sequence["Price"]
    finishes: Sequence["Price"]


def order_of(job: "Job") -> "Order | None":
    """Return the job's order loaded with `for_page`, None without a price. Six queries at most."""
    found = job.unit.orders.for_page().filter(job=job).first()
    if found:
        job.order = found  # whoever asks the job for it finds this one
    return found


def sums(order: "Order") -> Sums:
    """Return total, payments and deposit of an order. No query after `for_page`, else two."""
    total_minor = sum(line.amount_minor for line in order.lines.all())
    paid_minor = sum(payment.amount_minor for payment in order.payments.all())
    return Sums(total_minor, paid_minor, deposit_of(order.unit, total_minor))


def deposit_of(unit: "Unit", total_minor: int) -> int:
    """Return the unit's deposit for a total, fixed or a percentage; between zero and the total,
    minor units.
    """
    if unit.deposit_fixed_minor is not None:
        return max(0, min(unit.deposit_fixed_minor, total_minor))
    return max(0, money.round_half_up(Decimal(total_minor) * unit.deposit_percent / 100))


def balance_of(order: "Order") -> int:
    """Return what is left to pay in minor units, below zero if money goes back to the family."""
    return sums(order).balance_minor


def choices(order: "Order") -> Choices:
    """Return the backings and finishes of the order's price list. Two queries."""
    of_look = order.price_list.prices.filter(kind__in=("backing", "finish"))
    prices = list(of_look.prefetch_related("bands"))
    return Choices(
        backings=[price for price in prices if price.kind == "backing"],
        finishes=[price for price in prices if price.kind == "finish"],
    )


def can_choose(job: "Job") -> bool:
    """Whether the family may still choose backing and finish: before framing and not invoiced."""
    if job.stage not in BEFORE_FRAMING:
        return False
    order = getattr(job, "order", None)
    return order is not None and current_invoice(order) is None


def current_invoice(order: "Order") -> "Invoice | None":
    """Return the invoice that no credit note has cancelled, else None. No query after `for_page`,
    else one.
    """
    papers = order.invoices.all()
    cancelled = {paper.credits_id for paper in papers}
    in_force = (p for p in papers if p.kind == "invoice" and p.pk not in cancelled)
    return next(in_force, None)


def prices_every_piece(order: "Order") -> bool:
    """Whether the lines charge for exactly the pieces of the job; always true for one called off."""
    if order.job.stage == Stage.CALLED_OFF:
        return True
    charged = sum(
        line.quantity * line.price.pieces
        for line in order.lines.all()
        if line.price and line.price.kind == "casts"
    )
    return charged == sum(1 for piece in order.job.pieces.all() if not piece.left_off_at)
