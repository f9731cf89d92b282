"""The form for the VAT registration threshold."""

from datetime import date
from typing import Any

from django import forms

from studio.web.fields import MoneyField
from studio.web.forms import DateInput, StudioForm


class VatThresholdForm(StudioForm):
    """Starts with the UK's thresholds in force since 1 April 2024 (secondary tax pages [src])."""

    valid_from = forms.DateField(
        label="In force from", widget=DateInput(), initial=date(2024, 4, 1)
    )

    def __init__(self, currency: str, data: Any = None) -> None:
        super().__init__(data)
        british = currency == "GBP"
        self.fields["register_minor"] = MoneyField(
            currency=currency,
            label="Register when twelve months come to more than",
            initial=90_000_00 if british else None,
        )
        self.fields["leave_minor"] = MoneyField(
            currency=currency,
            label="You may leave below",
            initial=88_000_00 if british else None,
        )
        self.fields["warn_percent"] = forms.IntegerField(
            label="Warn me from, percent of it", min_value=1, max_value=100, initial=80
        )

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        above, below = facts.get("register_minor"), facts.get("leave_minor")
        if above == 0:
            self.add_error("register_minor", "Write an amount above zero.")
        elif above and below is not None and below > above:
            self.add_error("leave_minor", "It is at most the sum at which you must register.")
        return facts

    @property
    def facts(self) -> dict[str, Any]:
        """The arguments of `set_vat_threshold`."""
        written = dict(self.cleaned_data)
        return {"valid_from": written.pop("valid_from"), "facts": written}
