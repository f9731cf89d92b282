"""Price lists: which is in force, which is used, and what each contains."""

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any, cast

from django.db.models import Count

if TYPE_CHECKING:
    from orders.prices.models import Price, PriceList
    from studio.accounts.models import Unit


KIND_LABELS = {
    "casts": "Casts, framed",
    "backing": "Backings",
    "finish": "Frames, by finish of the oak",
    "extra": "Extras",
    "copy": "Second casts from the same mould",
    "delivery": "Delivery",
    "discount": "Discounts",
}


@dataclass(frozen=True, slots=True)
class ListState:
    """A price list with its state, whether it is used, and its number of prices."""

    price_list: "PriceList"
    state: str
    """"now", "later" or "past"."""
    used: bool
    prices: int


def lists_with_state(unit: "Unit", today: date) -> list[ListState]:
    """List the unit's price lists, newest first. Three queries."""
    in_force = unit.price_lists.in_force_on(today)
    used = set(unit.orders.values_list("price_list_id", flat=True).distinct())
    # The type stubs do not know the annotations.
    lists = cast(Any, unit.price_lists).annotate(count=Count("prices")).order_by("-valid_from")
    return [ListState(each, _state(each, in_force), each.pk in used, each.count) for each in lists]


def prices_by_kind(price_list: "PriceList") -> list[tuple[str, list["Price"]]]:
    """Group the list's prices by the labels of their kinds, without empty kinds. Two queries."""
    prices = list(price_list.prices.prefetch_related("bands"))
    found = [(words, [p for p in prices if p.kind == kind]) for kind, words in KIND_LABELS.items()]
    return [(words, of_kind) for words, of_kind in found if of_kind]


def is_used(price_list: "PriceList") -> bool:
    """Whether an order was priced on the list. One query."""
    return price_list.unit.orders.filter(price_list=price_list).exists()


def kinds_on(price_list: "PriceList") -> set[str]:
    """Return the kinds for which the list has a price. One query."""
    return set(price_list.prices.values_list("kind", flat=True))


def goes_by_size(price_list: "PriceList") -> bool:
    """Whether a backing or finish of the list is priced by size. One query."""
    return price_list.prices.filter(kind__in=("backing", "finish"), bands__isnull=False).exists()


def _state(price_list: "PriceList", in_force: "PriceList | None") -> str:
    if price_list == in_force:
        return "now"
    return "past" if in_force and price_list.valid_from < in_force.valid_from else "later"
