from django import forms

from studio.web.forms import DateInput, KeyedForm


class PromiseForm(KeyedForm):
    promised_on = forms.DateField(label="Promised for", widget=DateInput())
    why = forms.CharField(label="Why it changes", max_length=200)


class WhyForm(KeyedForm):
    why = forms.CharField(label="Why", max_length=200)
