"""What the actions on an order share; each is called inside the action's transaction."""

from orders.order.models import Order
from orders.order.totals import balance_of, standing_invoice
from studio import money
from studio.stages import ActionRefused


def settle(order: Order) -> None:
    """Keep `settled`: nothing to pay and nothing to give back. Whatever moves money ends here."""
    settled = balance_of(order) == 0
    if order.settled != settled:
        order.settled = settled
        order.save(update_fields=["settled"])


def refuse_invoiced(order: Order) -> None:
    """Raises ActionRefused while an invoice stands: what it says is what the order says."""
    if standing := standing_invoice(order):
        raise ActionRefused(
            f"Invoice {standing.number} stands for this order. "
            "Issue a credit note for it first, then change the order and invoice it anew."
        )


def say(order: Order, amount_minor: int) -> str:
    return money.display(amount_minor, order.unit.currency)


def the_reason(why: str, otherwise: str) -> str:
    """The words without spaces around them. Raises ActionRefused, saying `otherwise`, without any."""
    if not why.strip():
        raise ActionRefused(otherwise)
    return why.strip()
