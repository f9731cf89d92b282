"""Checks and updates shared by actions on an order, inside their transaction."""

from django.utils.translation import gettext as _

from orders.order.models import Order
from orders.order.totals import balance_of, current_invoice
from studio import money
from studio.stages import ActionRefused


def settle(order: Order) -> None:
    """Update `settled` (balance is zero); call it after every change of money."""
    settled = balance_of(order) == 0
    if order.settled != settled:
        order.settled = settled
        order.save(update_fields=["settled"])


def refuse_invoiced(order: Order) -> None:
    """Raise ActionRefused while an invoice is in force, because invoice and order must agree."""
    if invoice := current_invoice(order):
        stands = _(
            "Invoice %(number)s stands for this order. "
            "Issue a credit note for it first, then change the order and invoice it anew."
        )
        raise ActionRefused(stands % {"number": invoice.number})


def format_amount(order: Order, amount_minor: int) -> str:
    """Format minor units in the order's currency."""
    return money.display(amount_minor, order.unit.currency)


def require_reason(why: str, otherwise: str) -> str:
    """Return the reason without surrounding spaces. Raises ActionRefused(`otherwise`) if it is
    empty.
    """
    if not why.strip():
        raise ActionRefused(otherwise)
    return why.strip()
