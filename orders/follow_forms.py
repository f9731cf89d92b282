"""What a family may choose on its own page, and for how long the studio opens it to them."""

import uuid
from collections.abc import Sequence
from typing import Any, cast

from django import forms

from orders import links, queries
from orders.models import Order, Price
from studio import money
from studio.actions import EditedMeanwhile
from studio.forms import HiddenInput, KeyedForm, StudioForm


class LookForm(KeyedForm):
    """Backing and finish of an order, on the version of it that the family saw.

    A kind of which the price list names nothing is not asked for.
    """

    version = forms.IntegerField(widget=HiddenInput)

    def __init__(self, order: Order, data: Any = None) -> None:
        super().__init__(data, initial={"version": order.version})
        offered = queries.choices(order)
        self._offer("backing", "Backing", offered.backings, order)
        self._offer("finish", "Finish of the oak", offered.finishes, order)

    def _offer(self, name: str, label: str, prices: Sequence[Price], order: Order) -> None:
        if not prices:
            return
        by_pk = {str(price.pk): price for price in prices}
        chosen: Price | None = getattr(order, name)
        self.fields[name] = forms.TypedChoiceField(
            label=label,
            choices=[
                (pk, f"{price.label} ({_difference(price, chosen, order.unit.currency)})")
                for pk, price in by_pk.items()
            ],
            coerce=lambda pk: by_pk[pk],
            initial=chosen and str(chosen.pk),
            widget=forms.RadioSelect,
            error_messages={
                "required": "Choose one of these.",
                "invalid_choice": "Choose one of these.",
            },
        )

    @property
    def asks(self) -> bool:
        return bool(self.visible_fields())

    @property
    def look(self) -> dict[str, Any]:
        """What was chosen, under the names of `choose_look`."""
        return {name: self.cleaned_data.get(name) for name in ("backing", "finish")}

    def retold(self, edited: EditedMeanwhile) -> tuple["LookForm", list[dict[str, str]]]:
        """The form on what stands now, still with this choice, and both versions side by side.

        Sending it again then means: mine, having seen theirs.
        """
        now = cast(Order, edited.current)
        sent = {"version": str(now.version), "key": str(uuid.uuid4())}
        again = LookForm(now, {**dict(self.data.items()), **sent})
        again.refuse(edited)
        differences = [
            {"label": str(field.label), "theirs": theirs, "yours": yours}
            for field in again.visible_fields()
            if (theirs := _label(getattr(now, field.name)))
            != (yours := _label(self.look[field.name]))
        ]
        return again, differences


class LinkForm(StudioForm):
    days = forms.TypedChoiceField(
        label="Opens for",
        choices=[(30, "a month"), (links.USUAL_DAYS, "four months"), (365, "a year")],
        initial=links.USUAL_DAYS,
        coerce=int,
    )


def _label(price: Price | None) -> str:
    return price.label if price else ""


def _difference(price: Price, chosen: Price | None, currency: str) -> str:
    """What choosing `price` does to the total."""
    if price == chosen:
        return "chosen so far"
    more_minor = price.amount_minor - (chosen.amount_minor if chosen else 0)
    if more_minor == 0:
        return "no change in price"
    amount = money.say(abs(more_minor), currency)
    return f"{amount} more" if more_minor > 0 else f"{amount} less"
