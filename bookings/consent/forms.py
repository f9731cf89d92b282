from django import forms

from bookings.consent.models import Consent
from studio.web.forms import HiddenInput, KeyedForm


class ConsentForm(KeyedForm):
    purpose = forms.ChoiceField(choices=Consent.Purpose.choices, widget=HiddenInput)
    given_by = forms.CharField(
        label="Who says yes",
        max_length=80,
        error_messages={"required": "Write who says yes."},
    )
