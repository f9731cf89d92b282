"""Form fields shared by all rooms."""

from decimal import Decimal
from typing import Any

from babel.numbers import get_currency_precision, get_currency_symbol
from django import forms

from studio import money


class MoneyField(forms.CharField):
    """A field for an amount of money such as "85" or "£85.00"; its value is in minor units."""

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
