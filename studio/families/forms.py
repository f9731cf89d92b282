from datetime import date
from typing import Any

from django import forms

from studio.families.models import Child, Family
from studio.web.forms import DateInput, EditForm


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
