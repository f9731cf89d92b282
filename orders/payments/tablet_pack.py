"""The prices, look and deposit that a tablet carries to a sitting."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from bookings.tablet.pack import sittings_to_pack
from orders.order import totals
from orders.order.models import Order
from orders.payments.models import Payment
from orders.prices.models import Price
from production.frames.models import FrameSpecification
from studio.accounts.models import Unit
from studio.tablet.entries import pack_part

# Usual layouts of casts in a frame, offered as buttons.
LAYOUTS = (
    "Hands above, feet below",
    "All in one row",
    "Left above right",
    "In a square",
    "With room for a photograph",
)

NEXT_STEP = {
    "settled": "It is paid. The casts dry for about a week, then they are framed.",
    "deposit": "Ask for the deposit; the rest is due when it is ready.",
    "later": "The rest is due when it is ready.",
}


@pack_part("money", owner_only=True)
def money_part(unit: Unit, now: datetime) -> dict[str, Any]:
    """Return the owner's part of the pack. Twelve queries."""
    orders = _orders(sitting.job_id for sitting in sittings_to_pack(unit, now))
    return {
        "layouts": LAYOUTS,
        "methods": {method.value: str(method.label) for method in Payment.MONEY},
        "lists": {str(_list_of(order)): _looks(order) for order in orders},
        "orders": {order.job.reference: _order(order) for order in orders},
    }


def look(order: Order) -> dict[str, Any]:
    """Return the order's chosen look in the format of the tablet."""
    frame, backing, finish = order.frame, order.price_of("backing"), order.price_of("finish")
    return {
        "backing": backing.pk if backing else None,
        "finish": finish.pk if finish else None,
        "plate_words": frame.plate_words,
        "layout_words": frame.layout_words,
    }


def _orders(jobs: Iterable[int]) -> list[Order]:
    return list(
        Order.objects.filter(job__in=list(jobs))
        .for_page()
        .select_related("job", "unit")
        .prefetch_related("price_list__prices__bands", FrameSpecification.loaded("job__"))
    )


def _order(order: Order) -> dict[str, Any]:
    lines = list(order.lines.all())
    sums = totals.sums(order)
    of_look = (Price.Kind.BACKING, Price.Kind.FINISH)
    return {
        "version": order.frame.version,
        "list": _list_of(order),
        **look(order),
        "can_choose": totals.can_choose(order.job),
        "base_minor": sum(
            line.amount_minor for line in lines if not (line.price and line.price.kind in of_look)
        ),
        "total_minor": sums.total_minor,
        "paid_minor": sums.paid_minor,
        "deposit_minor": sums.deposit_minor,
        "deposit_left_minor": sums.deposit_left_minor,
        "lines": [
            {"label": line.label, "quantity": line.quantity, "amount_minor": line.amount_minor}
            for line in lines
        ],
        "next_step": NEXT_STEP[_next_step(sums)],
    }


def _next_step(sums: totals.Sums) -> str:
    if sums.balance_minor <= 0:
        return "settled"
    return "deposit" if sums.deposit_left_minor else "later"


def _list_of(order: Order) -> int | str:
    """Return the order's price list for the tablet, at the known size of the frame."""
    return f"{order.price_list_id}@{order.frame_mm}" if order.frame_mm else order.price_list_id


def _looks(order: Order) -> dict[str, Any]:
    prices = list(order.price_list.prices.all())
    return {
        name: [
            {
                "pk": price.pk,
                "label": price.label,
                "amount_minor": price.shown_at(order.frame_mm),
            }
            for price in prices
            if price.kind == kind
        ]
        for name, kind in (("backings", Price.Kind.BACKING), ("finishes", Price.Kind.FINISH))
    }
