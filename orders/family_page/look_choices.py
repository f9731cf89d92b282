"""The backings and finishes that a family may choose, as plain data without model instances."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypedDict

from orders.order import totals
from orders.order.models import Order
from orders.prices.models import Price
from studio import money

LABELS = {"backing": "Backing", "finish": "Finish of the oak"}


@dataclass(frozen=True, slots=True)
class LookOption:
    """A backing or finish that may be chosen."""

    pk: int
    label: str
    difference: str  # what choosing it does to the total


@dataclass(frozen=True, slots=True)
class LookQuestion:
    """The choice of one part; `name` is "backing" or "finish"."""

    name: str
    label: str
    options: tuple[LookOption, ...]
    chosen: int | None

    def label_of(self, pk: int | None) -> str:
        """Return the label of the option with this primary key, "" if there is none."""
        return next((each.label for each in self.options if each.pk == pk), "")


@dataclass(frozen=True, slots=True)
class LookChoices:
    """The choices at one version of the look; a part without prices on the list is left out."""

    version: int
    questions: tuple[LookQuestion, ...]


def look_choices(order: Order) -> LookChoices:
    """Return what the family may choose on the order's price list. Two queries."""
    choices = totals.choices(order)
    of_each = {"backing": choices.backings, "finish": choices.finishes}
    return LookChoices(
        order.frame.version,
        tuple(_question(name, prices, order) for name, prices in of_each.items() if prices),
    )


class Chosen(TypedDict):
    """The chosen prices as arguments of `choose_look`."""

    backing: Price | None
    finish: Price | None


def chosen_look(order: Order, chosen: Mapping[str, int | None]) -> Chosen:
    """Return the prices with the chosen primary keys. One query."""
    found = order.price_list.prices.in_bulk([pk for pk in chosen.values() if pk])
    backing, finish = (found.get(chosen.get(name) or 0) for name in LABELS)
    return Chosen(backing=backing, finish=finish)


def _question(name: str, prices: Sequence[Price], order: Order) -> LookQuestion:
    option_pk: int | None = getattr(order.frame, f"{name}_id")
    chosen = next((price for price in prices if price.option_id == option_pk), None)
    options = (LookOption(each.pk, each.label, _difference(each, chosen, order)) for each in prices)
    return LookQuestion(name, LABELS[name], tuple(options), chosen.pk if chosen else None)


def _difference(price: Price, chosen: Price | None, order: Order) -> str:
    if price == chosen:
        return "chosen so far"
    size_mm = order.frame_mm
    more_minor = price.shown_at(size_mm) - (chosen.shown_at(size_mm) if chosen else 0)
    if more_minor == 0:
        return "no change in price"
    amount = money.display(abs(more_minor), order.unit.currency)
    return f"{amount} more" if more_minor > 0 else f"{amount} less"
