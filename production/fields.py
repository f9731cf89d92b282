"""Form fields of the bench."""

from typing import Any

from django import forms

from production.number_parsing import parse_number


class NumberField(forms.CharField):
    """A number in a plain text field, so that a tablet's dictation can fill it and a comma is no error."""

    def __init__(
        self, *, low: float, high: float, strip: str = "", example: str = "", **kwargs: Any
    ) -> None:
        self.low, self.high, self.unit, self.example = low, high, strip, example
        attrs = {"inputmode": "decimal", "autocomplete": "off"}
        super().__init__(**{"widget": forms.TextInput(attrs=attrs), **kwargs})

    def clean(self, value: Any) -> Any:
        written = super().clean(value)
        if written in self.empty_values:
            return None
        try:
            number = parse_number(written, self.unit)
        except ValueError:
            raise forms.ValidationError(
                f"Write it as a number{self.example and f', {self.example}'}."
            ) from None
        if not self.low <= number <= self.high:  # also not a number
            raise forms.ValidationError(f"It lies between {self.low:g} and {self.high:g}.")
        return number
