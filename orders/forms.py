"""What the owner types about money."""

from datetime import date
from decimal import Decimal
from typing import Any, cast

from babel.numbers import get_currency_precision, get_currency_symbol
from django import forms

from orders.actions.ending import WAYS_HOME
from orders.models import Order, Payment, Price, PriceList
from studio import money
from studio.actions import EditedMeanwhile
from studio.forms import DateInput, HiddenInput, KeyedForm, StageForm, StudioForm
from studio.models import Unit


class MoneyField(forms.CharField):
    """An amount as people write it, "85" or "£85.00"; its value is minor units."""

    def __init__(self, *, currency: str, label: str, **kwargs: Any) -> None:
        self.currency = currency
        symbol = get_currency_symbol(currency, locale=money.LOCALE)
        attrs = {"inputmode": "decimal", "autocomplete": "off"}
        super().__init__(
            label=f"{label}, {symbol}",
            widget=forms.TextInput(attrs=attrs),
            error_messages={"required": "Write an amount."},
            **kwargs,
        )

    def to_python(self, value: Any) -> Any:
        text = super().to_python(value)
        if not text:
            return None
        try:
            return money.parse(text, self.currency)
        except ValueError as unreadable:
            raise forms.ValidationError(str(unreadable)) from None

    def prepare_value(self, value: Any) -> Any:
        if not isinstance(value, int):
            return value
        return str(Decimal(value).scaleb(-get_currency_precision(self.currency)))


class ListChoice(forms.ModelChoiceField[PriceList]):
    def label_from_instance(self, obj: PriceList) -> str:
        return f"the list from {obj.valid_from:%d.%m.%Y}"


class PriceChoice(forms.ModelChoiceField[Price]):
    """A line of the price list, with its price. `currency` is set with the query set."""

    currency = "GBP"

    def label_from_instance(self, obj: Price) -> str:
        return f"{obj.label}, {money.say(obj.amount_minor, self.currency)}"

    def offer(self, order: Order, kind: str) -> None:
        self.queryset = order.price_list.prices.filter(kind=kind)
        self.currency = order.unit.currency


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

    def __init__(self, currency: str, data: Any = None, *, price: Price | None = None) -> None:
        super().__init__(data, initial=forms.model_to_dict(price) if price else None)
        self.fields["amount_minor"] = MoneyField(
            currency=currency, label="Price", help_text="With VAT, if you charge it."
        )
        self.order_fields(["kind", "label", "amount_minor", "pieces", "one_child"])

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        if facts.get("kind") != Price.Kind.CASTS:
            facts |= {"pieces": 0, "one_child": False}
        elif not facts.get("pieces") and "pieces" not in self.errors:
            self.add_error("pieces", "Write how many casts this price is for.")
        return facts


class VatRateForm(StudioForm):
    valid_from = forms.DateField(label="In force from", widget=DateInput())
    percent = forms.DecimalField(
        label="Rate of VAT, %", min_value=0, max_value=100, max_digits=5, decimal_places=2
    )


class LookForm(KeyedForm):
    """Backing, finish and words of an order, on the version of it that the owner saw."""

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
                "seen_version": order.version,
                "backing": order.backing_id,
                "finish": order.finish_id,
                "plate_words": order.plate_words,
                "layout_words": order.layout_words,
            },
        )
        for name in ("backing", "finish"):
            cast(PriceChoice, self.fields[name]).offer(order, name)

    def tell(self, edited: EditedMeanwhile) -> list[dict[str, Any]]:
        """Refuse, keep the choice, and return what stands now beside it.

        Sending the form again then means: mine, having seen theirs.
        """
        self.refuse(edited)
        self.data = {**dict(self.data.items()), "seen_version": str(edited.current.version)}
        return [
            {"label": self.fields[name].label, "theirs": theirs, "yours": yours}
            for name in ("backing", "finish", "plate_words", "layout_words")
            if (theirs := getattr(edited.current, name)) != (yours := self.cleaned_data[name])
        ]


class ExtraForm(KeyedForm):
    price = PriceChoice(Price.objects.none(), label="Extra", empty_label=None)
    quantity = forms.IntegerField(label="How many", min_value=1, max_value=99, initial=1)

    def __init__(self, order: Order, data: Any = None) -> None:
        super().__init__(data)
        cast(PriceChoice, self.fields["price"]).offer(order, Price.Kind.EXTRA)


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


class PaymentForm(KeyedForm):
    """Begins with the whole balance, today."""

    def __init__(
        self, currency: str, data: Any = None, *, amount_minor: int | None = None, today: date
    ) -> None:
        super().__init__(data)
        self.fields["amount_minor"] = MoneyField(
            currency=currency, label="Amount", initial=amount_minor
        )
        self.fields["method"] = _method()
        self.fields["received_on"] = forms.DateField(
            label="Received on", widget=DateInput(), initial=today
        )


class PayBackForm(KeyedForm):
    def __init__(
        self, currency: str, data: Any = None, *, amount_minor: int | None = None, today: date
    ) -> None:
        super().__init__(data)
        self.fields["amount_minor"] = MoneyField(
            currency=currency, label="Paid back", initial=amount_minor
        )
        self.fields["method"] = _method()
        self.fields["paid_on"] = forms.DateField(
            label="Paid back on", widget=DateInput(), initial=today
        )
        self.fields["why"] = forms.CharField(
            label="What for",
            max_length=200,
            error_messages={"required": "Write what the money is paid back for."},
        )


class HandOverForm(StageForm):
    how = forms.ChoiceField(
        label="How it goes home",
        choices=[(way, words.rstrip(".")) for way, words in WAYS_HOME.items()],
        widget=forms.RadioSelect,
        initial="collected",
    )


class CallOffForm(StageForm):
    why = forms.CharField(
        label="Why", max_length=200, error_messages={"required": "Write why it is called off."}
    )

    def __init__(self, currency: str, data: Any = None, *, seen: str, paid_minor: int) -> None:
        super().__init__(data, initial={"seen": seen})
        # Without a payment there is nothing to keep, and nothing to ask.
        if paid_minor > 0:
            self.fields["keep_minor"] = MoneyField(
                currency=currency,
                label=f"Keep of the {money.say(paid_minor, currency)} paid",
                initial=0,
                help_text="Keep only what the job has really cost you; the rest goes back.",
            )

    def clean(self) -> dict[str, Any]:
        return {"keep_minor": 0} | (super().clean() or {})


def _method() -> forms.ChoiceField:
    return forms.ChoiceField(
        label="How",
        choices=Payment.Method.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Say how it was paid."},
    )
