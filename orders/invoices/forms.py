"""Forms for a batch of invoices and for a partial credit."""

from collections.abc import Iterable
from typing import Any

from django import forms

from orders.order.models import Order
from studio import money
from studio.web.fields import MoneyField
from studio.web.forms import KeyedForm


class BatchForm(KeyedForm):
    """The orders ready to be invoiced, all ticked at first."""

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
        charged = "; ".join(f"{label} {money.display(minor, currency)}" for label, minor in lines)
        self.fields["amount_minor"] = MoneyField(
            currency=currency,
            label="Credit",
            help_text=f"After their part of the reductions: {charged}." if charged else "",
        )
        self.fields["why"] = forms.CharField(
            label="What for",
            max_length=100,
            help_text="The credit note says it in these words.",
            error_messages={"required": "Write what is credited, and why."},
        )
