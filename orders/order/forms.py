"""Forms for the lines of an order and its look."""

from typing import Any, cast

from django import forms

from orders.order.models import Order
from orders.prices.models import Price
from studio import money
from studio.versions import EditedMeanwhile
from studio.web.fields import MoneyField
from studio.web.forms import HiddenInput, KeyedForm


class PriceChoice(forms.ModelChoiceField[Price]):
    """A choice among prices of a list, with their amounts; `set_choices` fills it."""

    currency = "GBP"
    size_mm: int | None = None

    def label_from_instance(self, obj: Price) -> str:
        if obj.percent:
            return f"{obj.label}, {obj.percent.normalize():f} % off"
        size = None if obj.kind == Price.Kind.DELIVERY else self.size_mm
        return f"{obj.label}, {money.display(obj.shown_at(size), self.currency)}"

    def set_choices(self, order: Order, *kinds: str) -> None:
        self.queryset = order.price_list.prices.filter(kind__in=kinds).prefetch_related("bands")
        self.currency, self.size_mm = order.unit.currency, order.frame_mm


class LookForm(KeyedForm):
    """Backing, finish and texts of an order, with the version of the look that the owner saw."""

    seen_version = forms.IntegerField(widget=HiddenInput)
    backing = PriceChoice(
        Price.objects.none(), label="Backing", required=False, empty_label="not chosen yet"
    )
    finish = PriceChoice(
        Price.objects.none(), label="Finish", required=False, empty_label="not chosen yet"
    )
    plate_words = forms.CharField(label="Words on the plate", max_length=200, required=False)
    layout_words = forms.CharField(label="How the casts lie", max_length=200, required=False)

    def __init__(self, order: Order, data: Any = None) -> None:
        super().__init__(
            data,
            initial={
                "seen_version": order.frame.version,
                "backing": order.price_of("backing"),
                "finish": order.price_of("finish"),
                "plate_words": order.frame.plate_words,
                "layout_words": order.frame.layout_words,
            },
        )
        for name in ("backing", "finish"):
            cast(PriceChoice, self.fields[name]).set_choices(order, name)

    def show_conflict(self, edited: EditedMeanwhile) -> list[dict[str, Any]]:
        """Show an edit conflict, keep the choice, and return the fields that differ, with both
        values.

        The form then carries the current version: submitting it again overwrites knowingly.
        """
        self.refuse(edited)
        self.data = {**dict(self.data.items()), "seen_version": str(edited.current.version)}
        return [
            {"label": self.fields[name].label, "theirs": theirs, "yours": yours}
            for name in ("backing", "finish", "plate_words", "layout_words")
            if str(theirs := getattr(edited.current, name)) != str(yours := self.cleaned_data[name])
        ]


class ExtraForm(KeyedForm):
    price = PriceChoice(Price.objects.none(), label="Extra", empty_label=None)
    quantity = forms.IntegerField(label="How many", min_value=1, max_value=99, initial=1)

    def __init__(self, order: Order, data: Any = None) -> None:
        super().__init__(data)
        cast(PriceChoice, self.fields["price"]).set_choices(
            order, Price.Kind.EXTRA, Price.Kind.COPY
        )


class DeliveryForm(KeyedForm):
    price = PriceChoice(Price.objects.none(), label="Delivery", empty_label=None)
    km = forms.IntegerField(
        label="How far, km",
        min_value=0,
        max_value=2000,
        required=False,
        help_text="One way, from door to door, as your own map says it: none is kept here.",
    )

    def __init__(self, order: Order, data: Any = None) -> None:
        super().__init__(data)
        cast(PriceChoice, self.fields["price"]).set_choices(order, Price.Kind.DELIVERY)


class DiscountForm(KeyedForm):
    price = PriceChoice(Price.objects.none(), label="Discount", empty_label=None)

    def __init__(self, order: Order, data: Any = None) -> None:
        super().__init__(data)
        cast(PriceChoice, self.fields["price"]).set_choices(order, Price.Kind.DISCOUNT)


class ReductionForm(KeyedForm):
    label = forms.CharField(
        label="What it is for",
        max_length=120,
        help_text="The invoice says it in these words.",
        error_messages={"required": "Write what it is for."},
    )

    def __init__(self, currency: str, data: Any = None) -> None:
        super().__init__(data)
        self.fields["amount_minor"] = MoneyField(currency=currency, label="Take off")
