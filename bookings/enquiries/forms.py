from typing import Any

from django import forms

from bookings.enquiries.models import Enquiry
from studio.web.forms import KeyedForm


class EnquiryForm(KeyedForm, forms.ModelForm["Enquiry"]):
    class Meta:
        model = Enquiry
        fields = ["name", "phone", "email", "postcode", "source", "words"]
        labels = {"words": "What they ask"}
        widgets = {
            "phone": forms.TextInput(attrs={"type": "tel"}),
            "words": forms.Textarea(attrs={"rows": 3}),
        }

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        unread = {"phone", "email"} & set(self.errors)
        if not facts.get("phone") and not facts.get("email") and not unread:
            self.add_error("phone", "Write a telephone number or an e-mail address to answer to.")
        return facts

    @property
    def facts(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in self._meta.fields or ()}


class SendEnquiryForm(EnquiryForm):
    """Form of the network office; without `source`, which is the office itself."""

    class Meta(EnquiryForm.Meta):
        fields = ["name", "phone", "email", "postcode", "words"]
