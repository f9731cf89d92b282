"""Forms for rates, time and travel."""

from typing import Any

from django import forms

from orders.costs.models import JobEffort, WorkRates
from studio.web.fields import MoneyField
from studio.web.forms import StudioForm


class WorkRatesForm(StudioForm):
    card_percent = forms.DecimalField(
        label="The card terminal takes, %", min_value=0, max_value=100, decimal_places=2
    )

    def __init__(self, currency: str, data: Any = None, *, own: WorkRates) -> None:
        super().__init__(data, initial=forms.model_to_dict(own))
        self.fields["hour_minor"] = MoneyField(currency=currency, label="An hour of yours")
        self.order_fields(["hour_minor", "card_percent"])


class EffortForm(StudioForm):
    minutes = forms.IntegerField(
        label="Minutes of work, all in all", min_value=0, max_value=100_000, required=False
    )

    def __init__(
        self, currency: str, data: Any = None, *, effort: JobEffort | None, usual: int
    ) -> None:
        super().__init__(data, initial=forms.model_to_dict(effort) if effort else None)
        self.fields["minutes"].help_text = f"Empty: the usual {usual} minutes of such a job."
        self.fields["travel_minor"] = MoneyField(
            currency=currency, label="Travel", required=False, initial=0
        )

    def facts(self) -> dict[str, Any]:
        return self.cleaned_data | {"travel_minor": self.cleaned_data["travel_minor"] or 0}
