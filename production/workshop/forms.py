"""Forms of plasters, workshop, room readings and moulds."""

from typing import Any

from django import forms

from production.casts.models import Mould, Plaster, Workshop
from production.fields import NumberField
from studio.web.forms import EditForm, KeyedForm


class PlasterForm(EditForm, forms.ModelForm["Plaster"]):
    class Meta:
        model = Plaster
        fields = [
            "name",
            "consistency",
            "working_minutes",
            "set_minutes",
            "density_g_per_ml",
            "purity_percent",
            "usual",
        ]

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        _within(self, facts, "consistency", 20, 120, "It lies between 20 and 120.")
        _within(self, facts, "density_g_per_ml", 2, 3, "It lies between 2 and 3 g per ml.")
        _within(self, facts, "purity_percent", 50, 100, "It lies between 50 and 100 percent.")
        _within(self, facts, "working_minutes", 1, 240, "It lies between 1 and 240 minutes.")
        working, sets = facts.get("working_minutes"), facts.get("set_minutes")
        if working and sets is not None and sets <= working:
            self.add_error("set_minutes", "It sets after it can no longer be poured.")
        return facts


class WorkshopForm(EditForm, forms.ModelForm["Workshop"]):
    temperature_c = NumberField(label="Usual temperature, °C", low=-5, high=60)
    humidity_percent = NumberField(label="Usual relative humidity, percent", low=5, high=100)

    class Meta:
        model = Workshop
        fields = [
            "temperature_c",
            "humidity_percent",
            "air_m_per_s",
            "scale_g",
            "depth_mm",
            "margin_mm",
            "bucket_ml",
        ]

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        _within(self, facts, "air_m_per_s", 0, 5, "It lies between 0 and 5 m/s.")
        _within(self, facts, "scale_g", 0.01, 10, "It lies between 0.01 and 10 g.")
        _within(self, facts, "depth_mm", 5, 100, "It lies between 5 and 100 mm.")
        _within(self, facts, "margin_mm", 0, 100, "It is at most 100 mm.")
        _within(self, facts, "bucket_ml", 100, 50_000, "It lies between 100 and 50,000 ml.")
        return facts


class RoomForm(KeyedForm):
    temperature_c = NumberField(label="Temperature, °C", low=-5, high=60, strip="°C")
    humidity_percent = NumberField(label="Relative humidity, percent", low=5, high=100, strip="%")


class MouldForm(KeyedForm):
    outline = forms.ChoiceField(
        label="Its outline", choices=Mould.Outline.choices, widget=forms.RadioSelect
    )
    length_mm = forms.IntegerField(label="Length, mm", min_value=20, max_value=600)
    width_mm = forms.IntegerField(label="Width, mm", min_value=20, max_value=600)
    depth_mm = forms.IntegerField(
        label="Depth of plaster, mm",
        min_value=5,
        max_value=100,
        help_text="On average, over the limb.",
    )


def _within(
    form: forms.ModelForm[Any],
    facts: dict[str, Any],
    name: str,
    low: float,
    high: float,
    words: str,
) -> None:
    value = facts.get(name)
    if value is not None and not low <= value <= high:
        form.add_error(name, words)
