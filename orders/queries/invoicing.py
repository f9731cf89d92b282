"""Orders that wait for an invoice, and the charged lines of one."""

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any, cast

from django.db.models import F

from orders import vat
from orders.querysets import OrderQuerySet
from studio.stages import Stage

if TYPE_CHECKING:
    from orders.models import Order
    from studio.models import Unit


GONE_LATELY = timedelta(days=90)


MOST_IN_A_BATCH = 2000


def to_invoice(unit: "Unit", today: date) -> OrderQuerySet:
    """Ready, or gone home lately, charged for and not invoiced: what a batch takes. Adds `total`,
    `paid`, `balance`, and `taxed_before`, what vouchers pay whose sale was the supply.
    """
    # The stubs do not know what the query set added.
    orders = cast(Any, unit.orders.with_balance().with_invoice().with_taxed_before())
    found: OrderQuerySet = orders.filter(invoiced_on=None, total__gt=F("taxed_before")).filter(
        job__stage__in=(Stage.READY, Stage.HANDED_OVER),
        job__stage_since__date__gt=today - GONE_LATELY,
    )
    return found.select_related("job__family").order_by("job__stage_since", "pk")[:MOST_IN_A_BATCH]


def charged_lines(order: "Order") -> list[tuple[str, int]]:
    """Each line above nothing and what it came to after its part of the reductions. One query."""
    lines = [line for line in order.lines.all() if line.amount_minor]
    parts = vat.charged([line.amount_minor for line in lines])
    return [
        (line.label, part) for line, part in zip(lines, parts, strict=True) if line.amount_minor > 0
    ]
