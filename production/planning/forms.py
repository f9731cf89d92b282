"""Forms of the plan."""

from datetime import date
from typing import Any

from django import forms

from production.schedule.models import PlanPin
from studio.jobs.models import Job, Piece
from studio.limbs import Limb
from studio.web.forms import DateInput, HiddenInput, KeyedForm, StudioForm


class StepForm(KeyedForm):
    """A step of a job's plan, of one piece or of all pieces."""

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
        """The step in words, even of an invalid form: "Demould Macsen, left foot"."""
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
    """A question sent by GET: the last sitting for a delivery day."""

    delivery_on = forms.DateField(label="At home by", widget=DateInput())
    pieces = forms.IntegerField(label="Hands and feet", min_value=1, max_value=8, initial=2)

    @property
    def limbs(self) -> list[Limb]:
        """As many limbs as asked for, hands first."""
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
