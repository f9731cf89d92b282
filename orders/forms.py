"""What the owner types about money."""

from collections.abc import Iterable
from datetime import date
from typing import Any, cast

from django import forms

from orders.event_words import WAYS_HOME
from orders.models import Order, Payment, Price, Quote
from orders.queries import Drawn
from studio import money
from studio.actions import EditedMeanwhile
from studio.fields import MoneyField
from studio.forms import DateInput, HiddenInput, KeyedForm, StageForm


class PriceChoice(forms.ModelChoiceField[Price]):
    """A line of the price list, with its price. `currency` and `size_mm` are set with the query set."""

    currency = "GBP"
    size_mm: int | None = None

    def label_from_instance(self, obj: Price) -> str:
        if obj.percent:
            return f"{obj.label}, {obj.percent.normalize():f} % off"
        size = None if obj.kind == Price.Kind.DELIVERY else self.size_mm
        return f"{obj.label}, {money.display(obj.shown_at(size), self.currency)}"

    def offer(self, order: Order, *kinds: str) -> None:
        self.queryset = order.price_list.prices.filter(kind__in=kinds).prefetch_related("bands")
        self.currency, self.size_mm = order.unit.currency, order.frame_mm


class BatchForm(KeyedForm):
    """The orders that are ready to be invoiced, all of them ticked."""

    def __init__(self, orders: Iterable[Order], data: Any = None) -> None:
        super().__init__(data)
        choices = [(order.pk, str(order.job)) for order in orders]
        self.fields["orders"] = forms.TypedMultipleChoiceField(
            label="Orders",
            choices=choices,
            coerce=int,
            widget=forms.CheckboxSelectMultiple,
            initial=[pk for pk, _ in choices],
            error_messages={
                "required": "Tick at least one of them.",
                "invalid_choice": "One of these is invoiced already: look at the list again.",
            },
        )


class CreditPartForm(KeyedForm):
    def __init__(
        self, currency: str, data: Any = None, *, lines: Iterable[tuple[str, int]] = ()
    ) -> None:
        super().__init__(data)
        said = "; ".join(f"{label} {money.display(minor, currency)}" for label, minor in lines)
        self.fields["amount_minor"] = MoneyField(
            currency=currency,
            label="Credit",
            help_text=f"After their part of the reductions: {said}." if said else "",
        )
        self.fields["why"] = forms.CharField(
            label="What for",
            max_length=100,
            help_text="The credit note says it in these words.",
            error_messages={"required": "Write what is credited, and why."},
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
        cast(PriceChoice, self.fields["price"]).offer(order, Price.Kind.EXTRA, Price.Kind.COPY)


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
        cast(PriceChoice, self.fields["price"]).offer(order, Price.Kind.DELIVERY)


class DiscountForm(KeyedForm):
    price = PriceChoice(Price.objects.none(), label="Discount", empty_label=None)

    def __init__(self, order: Order, data: Any = None) -> None:
        super().__init__(data)
        cast(PriceChoice, self.fields["price"]).offer(order, Price.Kind.DISCOUNT)


class FrameSizeForm(KeyedForm):
    frame_mm = forms.IntegerField(
        label="Longest side of the frame, mm",
        min_value=50,
        max_value=5000,
        required=False,
        help_text="Prices by size follow it. Leave it empty until you know.",
    )

    def __init__(self, order: Order, data: Any = None, *, drawn: Drawn | None = None) -> None:
        super().__init__(data, initial={"frame_mm": order.frame_mm})
        if drawn:
            self.fields["frame_mm"].help_text = f"Its frame is drawn {drawn.words} inside."
            self.initial["frame_mm"] = order.frame_mm or drawn.longest_mm


class AcceptForm(KeyedForm):
    how = forms.ChoiceField(
        label="How the family accepted it",
        choices=[(how.value, how.label) for how in Quote.BY_STUDIO],
        widget=forms.RadioSelect,
        error_messages={"required": "Say how they accepted it."},
    )


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
    """Begins with `amount_minor`, today. Sent back for more than `balance_minor`, it asks whether the
    family has really paid more.
    """

    def __init__(
        self,
        currency: str,
        data: Any = None,
        *,
        amount_minor: int | None = None,
        balance_minor: int,
        today: date,
    ) -> None:
        super().__init__(data)
        self.fields["amount_minor"] = MoneyField(
            currency=currency, label="Amount", initial=amount_minor
        )
        self.fields["method"] = _method()
        self.fields["received_on"] = forms.DateField(
            label="Received on", widget=DateInput(), initial=today
        )
        if data and self._typed() > balance_minor:
            self.fields["above"] = forms.BooleanField(
                label="They have really paid more: the rest goes back to them", required=False
            )

    def _typed(self) -> int:
        """The amount in the form, 0 where it is none."""
        typed = self.data.get(self.add_prefix("amount_minor"))
        try:
            return self.fields["amount_minor"].to_python(typed) or 0
        except forms.ValidationError:
            return 0


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
                label=f"Keep of the {money.display(paid_minor, currency)} paid",
                initial=0,
                help_text="Keep only what the job has really cost you; the rest goes back.",
            )

    def clean(self) -> dict[str, Any]:
        return {"keep_minor": 0} | (super().clean() or {})


def _method() -> forms.ChoiceField:
    return forms.ChoiceField(
        label="How",
        choices=[(method.value, method.label) for method in Payment.MONEY],
        widget=forms.RadioSelect,
        error_messages={"required": "Say how it was paid."},
    )
