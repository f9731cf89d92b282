"""Base classes of all forms (errors, idempotency key, version) and the forms of the site itself."""

import uuid
from datetime import date
from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password

from studio.actions import ActionRefused, EditedMeanwhile
from studio.fields import MoneyField
from studio.models import LIMB_ORDERS, Child, Family, Role, Unit, User, say_limbs
from studio.stages import Refused, Stage


class HiddenInput(forms.HiddenInput):
    """Hidden input without an id: several forms on one page would repeat it."""

    def __init__(self) -> None:
        super().__init__(attrs={"id": False})


class StudioForm(forms.Form):
    """A form that shows the refusal of an action like its own errors."""

    def full_clean(self) -> None:
        """Replace Django's message for a missing value by a plainer one, unless the field has its own."""
        usual = forms.Field.default_error_messages["required"]
        for field in self.fields.values():
            if field.error_messages.get("required") == usual:
                field.error_messages["required"] = "This is still needed."
        super().full_clean()

    def refuse(self, refusal: Refused) -> None:
        """Show the reasons of a refusal as errors of the whole form."""
        for reason in refusal.reasons:
            self.add_error(None, reason)

    @property
    def reasons(self) -> list[str]:
        """All errors as sentences, for a button without visible fields."""
        return [str(error) for errors in self.errors.values() for error in errors]

    def validated(self) -> dict[str, Any]:
        """Cleaned data of a button's form. Raises ActionRefused if it was tampered with or the page is outdated."""
        if not self.is_valid():
            raise ActionRefused(*self.reasons)
        return self.cleaned_data


class KeyedForm(StudioForm):
    """A form with an idempotency key, made when the page is: submitted twice, it writes once."""

    key = forms.UUIDField(
        widget=HiddenInput,
        error_messages={
            "required": "This page was sent without its key. Reload it and press again.",
            "invalid": "This page was sent with a broken key. Reload it and press again.",
        },
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["key"].initial = uuid.uuid4


class StageForm(KeyedForm):
    """A form with the stage that the person saw."""

    seen = forms.TypedChoiceField(choices=Stage.choices, coerce=Stage, widget=HiddenInput)


class DateInput(forms.DateInput):
    input_type = "date"

    def __init__(self, **attrs: Any) -> None:
        super().__init__(format="%Y-%m-%d", attrs=attrs)


class EditForm(StudioForm):
    """A form for a row with a version, so that the second of two editors is warned."""

    version = forms.IntegerField(widget=HiddenInput, initial=1)

    @property
    def facts(self) -> dict[str, Any]:
        """Cleaned data by the names of the row's fields, without the version."""
        return {name: value for name, value in self.cleaned_data.items() if name != "version"}

    def show_conflict(self, edited: EditedMeanwhile) -> list[dict[str, Any]]:
        """Show an edit conflict, keep the input, and return the fields that differ, with both values.

        The form then carries the current version: submitting it again overwrites knowingly.
        """
        self.refuse(edited)
        self.data = {
            **dict(self.data.items()),
            self.add_prefix("version"): str(edited.current.version),
        }
        return [
            {"label": self.fields[name].label, "theirs": theirs, "yours": yours}
            for name, yours in self.facts.items()
            if (theirs := getattr(edited.current, name)) != yours
        ]


class FamilyForm(EditForm, forms.ModelForm["Family"]):
    class Meta:
        model = Family
        fields = ["name", "contact_name", "phone", "email", "address", "postcode", "note"]
        widgets = {
            "address": forms.Textarea(attrs={"rows": 3, "autocomplete": "off"}),
            "note": forms.Textarea(attrs={"rows": 2}),
            "phone": forms.TextInput(attrs={"type": "tel"}),
        }

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        if not facts.get("phone") and not facts.get("email") and not self.errors:
            self.add_error("phone", "Write a telephone number or an e-mail address.")
        return facts


class ChildForm(EditForm, forms.ModelForm["Child"]):
    class Meta:
        model = Child
        fields = ["first_name", "born_on", "due_on"]
        widgets = {"born_on": DateInput(), "due_on": DateInput()}

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        self.today = today
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        born_on, due_on = facts.get("born_on"), facts.get("due_on")
        if born_on and born_on > self.today:
            self.add_error("born_on", "This date of birth is still to come.")
        if born_on and due_on and due_on <= born_on:
            self.add_error("due_on", "The due date of a baby born early lies after the birth.")
        return facts


class UnitForm(EditForm, forms.ModelForm["Unit"]):
    limb_order = forms.ChoiceField(
        label="Order of the limbs",
        choices=[(order, say_limbs(order)) for order in LIMB_ORDERS],
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
        """The arguments of `studio.actions.set_up_unit`."""
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


class PromiseForm(KeyedForm):
    promised_on = forms.DateField(label="Promised for", widget=DateInput())
    why = forms.CharField(label="Why it changes", max_length=200)


class WhyForm(KeyedForm):
    why = forms.CharField(label="Why", max_length=200)


def _good_password(password: str) -> str:
    validate_password(password, User())
    return password
