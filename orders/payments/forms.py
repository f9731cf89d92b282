"""Forms for payments and refunds."""

from datetime import date
from typing import Any

from django import forms

from orders.order import totals
from orders.order.models import Order
from orders.payments.models import Payment
from studio.stages import Stage
from studio.web.fields import MoneyField
from studio.web.forms import DateInput, KeyedForm


class PaymentForm(KeyedForm):
    """A payment, initially of `amount_minor` today.

    Above `balance_minor` it comes back asking whether the family has really paid more.
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
        """The amount in the submitted form, 0 if it is not valid."""
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


def _method() -> forms.ChoiceField:
    return forms.ChoiceField(
        label="How",
        choices=[(method.value, method.label) for method in Payment.MONEY],
        widget=forms.RadioSelect,
        error_messages={"required": "Say how it was paid."},
    )


def payment_form(order: Order, data: Any = None, *, today: date) -> PaymentForm:
    """Return a payment form, initially with the deposit while that is due, else with the balance."""
    sums = totals.sums(order)
    asked = sums.deposit_left_minor if order.job.stage == Stage.BOOKED else 0
    return PaymentForm(
        order.unit.currency,
        data,
        amount_minor=asked or max(0, sums.balance_minor),
        balance_minor=sums.balance_minor,
        today=today,
    )


def pay_back_form(order: Order, data: Any = None, *, today: date) -> PayBackForm:
    """Return a refund form, initially with all that is owed to the family."""
    owed_minor = max(0, -totals.balance_of(order))
    return PayBackForm(order.unit.currency, data, amount_minor=owed_minor, today=today)
