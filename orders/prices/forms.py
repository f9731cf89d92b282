"""Forms for price lists, prices, bands and VAT rates."""

from datetime import date
from decimal import Decimal
from typing import Any, cast

from django import forms

from orders.prices.models import Price, PriceList
from studio import units
from studio.accounts.models import Unit
from studio.web.fields import MoneyField
from studio.web.forms import DateInput, StudioForm


class ListChoice(forms.ModelChoiceField[PriceList]):
    def label_from_instance(self, obj: PriceList) -> str:
        return f"the list from {units.full_day(obj.valid_from)}"


class PriceListForm(StudioForm):
    valid_from = forms.DateField(label="In force from", widget=DateInput())
    copy_of = ListChoice(
        PriceList.objects.none(),
        label="Begin with the prices of",
        required=False,
        empty_label="none: an empty list",
    )

    def __init__(self, unit: Unit, data: Any = None, *, today: date) -> None:
        super().__init__(data)
        lists = unit.price_lists.all()
        field = cast(ListChoice, self.fields["copy_of"])
        field.queryset = lists
        field.initial = lists.in_force_on(today) or lists.first()
        if not lists:
            del self.fields["copy_of"]
            self.fields["valid_from"].initial = today


class PriceForm(StudioForm):
    kind = forms.TypedChoiceField(
        label="Kind", choices=Price.Kind.choices, coerce=Price.Kind, widget=forms.RadioSelect
    )
    label = forms.CharField(
        label="What it is", max_length=80, help_text="As the family and the invoice read it."
    )
    pieces = forms.IntegerField(
        label="Pieces",
        required=False,
        min_value=1,
        max_value=200,
        help_text="For casts: 1 a single, 2 a pair, 4 a set.",
    )
    one_child = forms.BooleanField(label="All pieces of one child", required=False)
    percent = forms.DecimalField(
        label="Percent off",
        required=False,
        min_value=Decimal("0.01"),
        max_value=100,
        max_digits=5,
        decimal_places=2,
        help_text="For a discount: a part of the price. Leave it empty to take the amount off.",
    )
    given = forms.ChoiceField(
        label="Who has the discount", choices=Price.Given.choices, required=False
    )

    def __init__(self, currency: str, data: Any = None, *, price: Price | None = None) -> None:
        super().__init__(data, initial=forms.model_to_dict(price) if price else None)
        self.fields["amount_minor"] = MoneyField(
            currency=currency,
            label="Price",
            required=False,
            help_text="With the tax on it, if you charge it. Backings, frames and deliveries can have "
            "steps by size or distance afterwards.",
        )
        self.order_fields(
            ["kind", "label", "amount_minor", "pieces", "one_child", "percent", "given"]
        )

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        if facts.get("kind") != Price.Kind.CASTS:
            facts |= {"pieces": 0, "one_child": False}
        elif not facts.get("pieces") and "pieces" not in self.errors:
            self.add_error("pieces", "Write how many casts this price is for.")
        if facts.get("kind") != Price.Kind.DISCOUNT:
            facts |= {"percent": None, "given": ""}
        if facts.get("percent"):
            facts["amount_minor"] = 0
        elif facts.get("amount_minor") is None and "amount_minor" not in self.errors:
            self.add_error("amount_minor", "Write an amount.")
        return facts


class BandsForm(StudioForm):
    """The bands of one price; empty rows are ignored."""

    ROWS = 6

    def __init__(self, currency: str, data: Any = None, *, price: Price) -> None:
        super().__init__(data)
        unit = "km" if price.kind == Price.Kind.DELIVERY else "mm"
        steps = [*price.bands.all(), *[None] * self.ROWS]
        for number, step in enumerate(steps[: self.ROWS], 1):
            self.fields[f"up_to_{number}"] = forms.IntegerField(
                label=f"Step {number}: up to, {unit}",
                min_value=1,
                max_value=5000,
                required=False,
                initial=step.up_to if step else None,
            )
            self.fields[f"amount_{number}"] = MoneyField(
                currency=currency,
                label=f"Step {number}: price",
                required=False,
                initial=step.amount_minor if step else None,
            )

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        for number in range(1, self.ROWS + 1):
            ends = [facts.get(f"up_to_{number}"), facts.get(f"amount_{number}")]
            if ends.count(None) == 1:
                missing = "up_to" if ends[0] is None else "amount"
                if not self.errors.get(f"{missing}_{number}"):
                    self.add_error(f"{missing}_{number}", "Write both, or leave both empty.")
        return facts

    @property
    def bands(self) -> list[tuple[int, int]]:
        """The bands as (up to, minor units)."""
        rows = (
            (self.cleaned_data[f"up_to_{number}"], self.cleaned_data[f"amount_{number}"])
            for number in range(1, self.ROWS + 1)
        )
        return [(up_to, amount) for up_to, amount in rows if up_to is not None]


class VatRateForm(StudioForm):
    valid_from = forms.DateField(label="In force from", widget=DateInput())
    percent = forms.DecimalField(
        label="Rate of VAT, %", min_value=0, max_value=100, max_digits=5, decimal_places=2
    )
