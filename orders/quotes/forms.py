"""The form to record how a family accepted a price."""

from django import forms

from orders.quotes.models import Quote
from studio.web.forms import KeyedForm


class AcceptForm(KeyedForm):
    method = forms.ChoiceField(
        label="How the family accepted it",
        choices=[(method.value, method.label) for method in Quote.BY_STUDIO],
        widget=forms.RadioSelect,
        error_messages={"required": "Say how they accepted it."},
    )
