"""The form for royalty terms."""

from typing import Any

from django import forms

from orders.royalty.models import RoyaltyTerms
from studio.web.fields import MoneyField
from studio.web.forms import DateInput, StudioForm


class RoyaltyTermsForm(StudioForm):
    valid_from = forms.DateField(label="In force from", widget=DateInput())
    royalty_percent = forms.DecimalField(
        label="Royalty, %", min_value=0, max_value=100, decimal_places=2
    )
    levy_percent = forms.DecimalField(
        label="Levy for the common fund, %", min_value=0, max_value=100, decimal_places=2, initial=0
    )
    vat_percent = forms.DecimalField(
        label="VAT that is charged on both, %",
        min_value=0,
        max_value=100,
        decimal_places=2,
        required=False,
    )
    basis = forms.ChoiceField(
        label="Reckoned by", choices=RoyaltyTerms.Basis.choices, widget=forms.RadioSelect
    )
    voucher_at = forms.ChoiceField(
        label="Vouchers count", choices=RoyaltyTerms.VoucherAt.choices, widget=forms.RadioSelect
    )
    every_months = forms.TypedChoiceField(
        label="A return",
        choices=[
            (1, "every month"),
            (3, "every quarter"),
            (6, "every half year"),
            (12, "every year"),
        ],
        coerce=int,
    )

    def __init__(
        self, currency: str, data: Any = None, *, last: RoyaltyTerms | None = None
    ) -> None:
        initial = {"basis": "invoiced", "voucher_at": "use", "every_months": 1}
        super().__init__(data, initial=forms.model_to_dict(last) if last else initial)
        self.fields["minimum_minor"] = MoneyField(
            currency=currency, label="Least royalty of a return", required=False, initial=0
        )
        self.order_fields(["valid_from", "royalty_percent", "levy_percent", "minimum_minor"])

    def facts(self) -> dict[str, Any]:
        return self.cleaned_data | {"minimum_minor": self.cleaned_data["minimum_minor"] or 0}
