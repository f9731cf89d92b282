"""The forms of the working week and of the plan."""

from datetime import date
from typing import Any

from django import forms

from production.planning.models import OtherDays, PlanPin, WorkingWeek
from studio.forms import DateInput, EditForm, HiddenInput, KeyedForm, StudioForm
from studio.models import Job, Limb, Piece


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


class StepForm(KeyedForm):
    """Which step of a job: of one piece, or of all its pieces."""

    kind = forms.ChoiceField(choices=PlanPin.Kind.choices, widget=HiddenInput)
    piece = forms.ModelChoiceField(
        queryset=Piece.objects.none(), required=False, widget=HiddenInput
    )

    def __init__(self, *args: Any, job: Job, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["piece"].queryset = job.pieces.all()  # type: ignore[attr-defined]
        self.job = job

    @property
    def step(self) -> str:
        """The step in words, also of a form that is not sound: "Demould Macsen, left foot"."""
        kind = dict(PlanPin.Kind.choices).get(self["kind"].value() or "", "A step of")
        try:
            piece = self.fields["piece"].clean(self["piece"].value())
        except forms.ValidationError:  # an address written by hand
            piece = None
        return f"{kind} {piece or self.job.first_names}"


class PinForm(StepForm):
    on = forms.DateField(
        label="Keep it on",
        widget=DateInput(),
        error_messages={"invalid": "Write a day that exists, like 03/12/2026."},
    )


class CourierForm(KeyedForm):
    courier = forms.TypedChoiceField(
        choices=[("yes", "by courier"), ("no", "collected")], coerce=lambda said: said == "yes"
    )


class LastSittingForm(StudioForm):
    """Asked for by a look, not a press."""

    delivery_on = forms.DateField(label="At home by", widget=DateInput())
    pieces = forms.IntegerField(label="Hands and feet", min_value=1, max_value=8, initial=2)

    @property
    def limbs(self) -> list[Limb]:
        """So many limbs, hands first."""
        return (list(Limb) * 2)[: self.cleaned_data["pieces"]]


class WeekOffForm(StudioForm):
    first_on = forms.DateField(label="Off from", widget=DateInput())
    last_on = forms.DateField(label="to", widget=DateInput())

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        self.today = today
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        first_on, last_on = facts.get("first_on"), facts.get("last_on")
        if first_on and first_on < self.today:
            self.add_error("first_on", "That day is over.")
        if first_on and last_on and last_on < first_on:
            self.add_error("last_on", "The last day lies before the first.")
        return facts
