"""Forms for vouchers."""

from datetime import date
from typing import Any

from dateutil.relativedelta import relativedelta
from django import forms

from orders.payments.models import Payment
from studio.accounts.models import Unit
from studio.web.fields import MoneyField
from studio.web.forms import DateInput, KeyedForm

GOOD_FOR_MONTHS = 24


class VoucherForm(KeyedForm):
    buyer = forms.CharField(label="Bought by", max_length=80)
    for_whom = forms.CharField(label="For", max_length=80, required=False)
    words = forms.CharField(label="Words on the card", max_length=160, required=False)
    method = forms.ChoiceField(
        label="How it was paid",
        choices=[(method.value, method.label) for method in Payment.MONEY],
        widget=forms.RadioSelect,
        error_messages={"required": "Say how it was paid."},
    )
    expires_on = forms.DateField(label="Good until", widget=DateInput())
    taxed_when_sold = forms.BooleanField(
        label="It can only buy goods of one tax rate",
        required=False,
        help_text="Then its sale is what is charged and taxed, now, at the price paid; what it pays for "
        "later is taken off that invoice and taxed no more. One that can buy goods of several rates is "
        "taxed when it is used. Ask your accountant once, and keep to it.",
    )

    def __init__(self, unit: Unit, data: Any = None, *, today: date) -> None:
        last = unit.vouchers.first()
        initial = {
            "expires_on": today + relativedelta(months=GOOD_FOR_MONTHS),
            "taxed_when_sold": bool(last and last.taxed_when_sold),
        }
        super().__init__(data, initial=initial)
        currency = unit.currency
        self.fields["value_minor"] = MoneyField(currency=currency, label="Worth")
        self.fields["price_minor"] = MoneyField(
            currency=currency,
            label="Sold for",
            required=False,
            help_text="Leave it empty where it is sold for what it is worth.",
        )
        self.order_fields(["value_minor", "price_minor", "buyer", "for_whom", "words"])

    def facts(self) -> dict[str, Any]:
        found = {name: self.cleaned_data[name] for name in self.cleaned_data if name != "key"}
        price_minor = found["price_minor"]
        found["price_minor"] = found["value_minor"] if price_minor is None else price_minor
        return found


class UseVoucherForm(KeyedForm):
    code = forms.CharField(
        label="Code",
        max_length=20,
        help_text="As it is read out: capitals, spaces and the hyphen do not matter.",
        error_messages={"required": "Type the code that stands on the card."},
    )

    def __init__(self, currency: str, data: Any = None) -> None:
        super().__init__(data)
        self.fields["amount_minor"] = MoneyField(
            currency=currency,
            label="Amount",
            required=False,
            help_text="Leave it empty to use as much as both allow.",
        )
