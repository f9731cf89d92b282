from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password

from studio.accounts.models import Unit, User
from studio.limbs import LIMB_ORDERS, format_limbs
from studio.roles import Role
from studio.web.fields import MoneyField
from studio.web.forms import DateInput, EditForm, StudioForm


class UnitForm(EditForm, forms.ModelForm["Unit"]):
    limb_order = forms.ChoiceField(
        label="Order of the limbs",
        choices=[(order, format_limbs(order)) for order in LIMB_ORDERS],
        help_text="The order in which you take them at a sitting.",
    )

    class Meta:
        model = Unit
        fields = [
            "name",
            "trader_name",
            "address",
            "postcode",
            "phone",
            "email",
            "payment_words",
            "vat_number",
            "vat_registered_on",
            "vat_left_on",
            "tax_name",
            "payment_days",
            "earliest_weeks",
            "best_months",
            "sitting_minutes",
            "limb_order",
            "promise_days",
            "clay_rest_hours",
            "demould_hours",
            "drying_days",
            "consistency",
            "rack_places",
            "deposit_percent",
            "deposit_fixed_minor",
            "deposit_days",
            "label_width_mm",
            "label_height_mm",
        ]
        widgets = {
            "address": forms.Textarea(attrs={"rows": 3}),
            "payment_words": forms.Textarea(attrs={"rows": 3}),
            "vat_registered_on": DateInput(),
            "vat_left_on": DateInput(),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        plain = self.fields["deposit_fixed_minor"]
        self.fields["deposit_fixed_minor"] = MoneyField(
            currency=self.instance.currency,
            label=str(plain.label),
            help_text=plain.help_text,
            required=False,
        )

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        if facts.get("vat_registered_on") and not facts.get("vat_number"):
            self.add_error("vat_number", "A registered trader shows its VAT number.")
        began, left = facts.get("vat_registered_on"), facts.get("vat_left_on")
        if left and not (began and began < left):
            self.add_error("vat_left_on", "The registration ends after the day on which it began.")
        return facts


class FirstRunForm(StudioForm):
    owner_name = forms.CharField(label="Your name", max_length=80)
    email = forms.EmailField(label="Your e-mail address")
    password = forms.CharField(
        label="A password",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="At least 8 characters, not a common word.",
    )
    name = forms.CharField(label="Name of your studio", max_length=80)
    address = forms.CharField(label="Business address", widget=forms.Textarea(attrs={"rows": 3}))
    postcode = forms.CharField(label="Postcode", max_length=12)
    phone = forms.CharField(label="Telephone", max_length=30)

    def clean_password(self) -> str:
        return _good_password(self.cleaned_data["password"])

    @property
    def facts(self) -> dict[str, Any]:
        """The arguments of `studio.accounts.actions.set_up_unit`."""
        written = dict(self.cleaned_data)
        account = {name: written.pop(name) for name in ("email", "password", "owner_name")}
        return account | {
            "unit_facts": written
            | {"trader_name": account["owner_name"], "email": account["email"]}
        }


class PersonForm(StudioForm):
    name = forms.CharField(label="Name", max_length=80)
    email = forms.EmailField(label="E-mail address")
    role = forms.TypedChoiceField(label="What they do here", choices=Role.choices, coerce=Role)
    password = forms.CharField(
        label="First password", widget=forms.PasswordInput(attrs={"autocomplete": "new-password"})
    )

    def clean_password(self) -> str:
        return _good_password(self.cleaned_data["password"])


def _good_password(password: str) -> str:
    validate_password(password, User())
    return password
