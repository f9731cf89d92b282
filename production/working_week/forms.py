from datetime import date
from typing import Any

from django import forms

from production.working_week.models import OtherDays, WorkingWeek
from studio.web.forms import DateInput, EditForm, KeyedForm


class WorkingWeekForm(EditForm, forms.ModelForm["WorkingWeek"]):
    courier_days = forms.MultipleChoiceField(
        label="The courier comes on",
        choices=[(day, day.capitalize()) for day in WorkingWeek.DAYS],
        widget=forms.CheckboxSelectMultiple,
        required=False,
    )

    class Meta:
        model = WorkingWeek
        fields = [
            *WorkingWeek.DAYS,
            "division",
            "moulds_per_pour",
            "pours_per_day",
            "pour_minutes",
            "demould_minutes",
            "frame_minutes",
            "piece_minutes",
            "setup_minutes",
            "framing_minutes_per_day",
            "cure_days",
            "courier_days",
        ]

    def __init__(self, data: Any, *, instance: WorkingWeek) -> None:
        initial = {
            "version": instance.version,
            "courier_days": instance.courier_days.split(",") if instance.courier_days else [],
        }
        super().__init__(data, instance=instance, initial=initial)

    def clean_courier_days(self) -> str:
        return ",".join(self.cleaned_data["courier_days"])

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        setup, most = facts.get("setup_minutes"), facts.get("framing_minutes_per_day")
        if setup is not None and most is not None and most <= setup:
            self.add_error(
                "framing_minutes_per_day", "It must be more than setting up takes by itself."
            )
        return facts


class OtherDaysForm(KeyedForm, forms.ModelForm["OtherDays"]):
    class Meta:
        model = OtherDays
        fields = ["first_on", "last_on", "minutes", "why"]
        widgets = {"first_on": DateInput(), "last_on": DateInput()}

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        self.today = today
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        first_on, last_on = facts.get("first_on"), facts.get("last_on")
        if last_on and last_on < self.today:
            self.add_error("last_on", "These days are over.")
        if first_on and last_on and last_on < first_on:
            self.add_error("last_on", "The last day lies before the first.")
        return facts
