"""The form of the unit's own reasons."""

from django import forms

from production.casts.models import Cast
from studio.web.forms import DateInput, KeyedForm


class SpoilReasonForm(KeyedForm):
    words = forms.CharField(
        label="The reason in your words",
        max_length=80,
        help_text="What happened, never who: “lifted too early”, “bubble at the heel”.",
    )
    how = forms.ChoiceField(
        label="Counted as", choices=Cast.Spoil.choices, widget=forms.RadioSelect
    )
    from_on = forms.DateField(label="In use from", widget=DateInput())
