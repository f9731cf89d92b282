"""Forms that book, move and cancel a sitting, with the local time of the unit."""

from collections.abc import Sequence
from datetime import date, datetime, time
from typing import Any, cast

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator

from bookings import times
from bookings.diary import booking_checks
from bookings.diary.week import FIRST_YEAR, LAST_YEAR
from bookings.sittings.models import Sitting
from studio import units
from studio.accounts.models import Unit
from studio.families.models import Child
from studio.jobs.forms import WhyForm
from studio.limbs import Limb
from studio.versions import EditedMeanwhile
from studio.web.forms import DateInput, HiddenInput, KeyedForm


class WhenForm(KeyedForm):
    """When and where a sitting is, in the unit's local time."""

    on = forms.DateField(
        label="Day",
        widget=DateInput(),
        validators=[
            MinValueValidator(date(FIRST_YEAR, 1, 1), f"The diary begins in {FIRST_YEAR}."),
            MaxValueValidator(date(LAST_YEAR, 12, 31), f"The diary ends with {LAST_YEAR}."),
        ],
        error_messages={"invalid": "Write a day that exists, like 03/12/2026."},
    )
    clock = forms.TimeField(
        label="Time",
        widget=forms.TimeInput(format="%H:%M", attrs={"type": "time"}),
        error_messages={"invalid": "Write a time of day, like 10:30."},
    )
    minutes = forms.IntegerField(
        label="Length in minutes", min_value=5, max_value=booking_checks.MAX_MINUTES
    )
    place = forms.ChoiceField(
        label="Where",
        choices=Sitting.Place.choices,
        initial=Sitting.Place.HOME,
        widget=forms.RadioSelect,
    )
    place_words = forms.CharField(label="Where exactly", max_length=200, required=False)
    young_why = forms.CharField(
        label="Yes, so young, because",
        max_length=200,
        required=False,
        help_text="Written beside the sitting, and needed while a child is too young.",
    )
    # The day whose ages the page showed: a sitting is confirmed only after they were seen.
    seen_on = forms.DateField(required=False, widget=HiddenInput)

    def __init__(self, *args: Any, unit: Unit, **kwargs: Any) -> None:
        self.unit = unit
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        on, clock = facts.get("on"), facts.get("clock")
        if on and clock:
            self._set_start(on, clock)
        if facts.get("place") == Sitting.Place.ELSEWHERE and not facts.get("place_words"):
            self.add_error("place_words", "Write where the sitting is.")
        if on and facts.get("seen_on") != on and not self.errors:
            self.add_error(
                "on",
                f"The ages on {units.day(on)} are shown below now: look at them, then press again.",
            )
        return facts

    def _set_start(self, on: date, clock: time) -> None:
        try:
            self.cleaned_data["starts_at"] = times.to_utc(on, clock, self.unit.time_zone)
        except ValueError as skipped:
            self.add_error("clock", str(skipped))

    @property
    def facts(self) -> dict[str, Any]:
        """Arguments of the actions of the diary."""
        names = ("starts_at", "minutes", "place", "place_words", "young_why", "key")
        return {name: self.cleaned_data[name] for name in names}

    def show_conflict(self, edited: EditedMeanwhile) -> list[dict[str, str]]:
        """Show an edit conflict; return the differences, none for a new sitting."""
        self.refuse(edited)
        return []

    @property
    def day(self) -> date | None:
        """The day entered in the form, or None if it cannot be read."""
        try:
            value: date = self.fields["on"].clean(self["on"].value())
        except forms.ValidationError:
            return None
        return value


class BookingForm(WhenForm):
    wanted = forms.MultipleChoiceField(
        label="Hands and feet",
        error_messages={"required": "Choose at least one hand or foot."},
    )
    promise = forms.ChoiceField(
        label="Promise the family",
        choices=[("plan", "a day that the plan keeps in nine cases of ten"), ("usual", "")],
        widget=forms.RadioSelect,
        required=False,
        initial="plan",
    )
    field_order = ["key", "wanted"]

    def __init__(self, *args: Any, children: Sequence[Child], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        planned, usual = self.fields["promise"].choices  # type: ignore[attr-defined]
        words = f"the usual {self.unit.promise_days} days after the sitting"
        self.fields["promise"].choices = [planned, (usual[0], words)]  # type: ignore[attr-defined]
        self.pairs = {f"{child.pk}-{limb}": (child, limb) for child in children for limb in Limb}
        self.fields["wanted"].choices = [(name, name) for name in self.pairs]  # type: ignore[attr-defined]

    @property
    def facts(self) -> dict[str, Any]:
        wanted = [self.pairs[name] for name in self.cleaned_data["wanted"]]
        return {**super().facts, "wanted": wanted}

    @property
    def by_plan(self) -> bool:
        """Whether to promise the day that the plan estimates, rather than the unit's usual days."""
        return bool(self.cleaned_data["promise"] == "plan")

    @property
    def grid(self) -> list[dict[str, Any]]:
        """Checkboxes by child and limb."""
        ticked = set(self["wanted"].value() or ())
        rows: dict[Child, list[dict[str, Any]]] = {}
        for name, (child, limb) in self.pairs.items():
            box = {"value": name, "limb": limb.label, "ticked": name in ticked}
            rows.setdefault(child, []).append(box)
        return [{"child": child, "boxes": boxes} for child, boxes in rows.items()]


class MoveForm(WhenForm):
    why = forms.CharField(label="Why it moves", max_length=200, required=False)
    version = forms.IntegerField(widget=HiddenInput)

    @property
    def facts(self) -> dict[str, Any]:
        why, version = self.cleaned_data["why"], self.cleaned_data["version"]
        return {**super().facts, "why": why, "seen_version": version}

    def show_conflict(self, edited: EditedMeanwhile) -> list[dict[str, str]]:
        """Show an edit conflict, keep the input, and return the fields that differ."""
        current = cast("Sitting", edited.current)
        self.refuse(edited)
        self.data = {**dict(self.data.items()), "version": str(current.version)}
        zone = self.unit.time_zone
        place = Sitting.Place(self.cleaned_data["place"])
        fields = [
            ("When", _when(current.starts_at, zone), _when(self.cleaned_data["starts_at"], zone)),
            ("Where", _place(current.get_place_display(), current.place_words),
             _place(place.label, self.cleaned_data["place_words"])),
            ("State", current.get_state_display(), Sitting.State.PLANNED.label),
        ]  # fmt: skip
        return [
            {"label": label, "theirs": theirs, "yours": yours}
            for label, theirs, yours in fields
            if theirs != yours
        ]


class CancelForm(WhyForm):
    version = forms.IntegerField(widget=HiddenInput)

    @property
    def facts(self) -> dict[str, Any]:
        """Arguments of the action `cancel_sitting`."""
        written = dict(self.cleaned_data)
        return {"seen_version": written.pop("version"), **written}

    def show_conflict(self, edited: EditedMeanwhile) -> list[dict[str, str]]:
        """Show an edit conflict, keep the reason, and return the current sitting beside it."""
        current = cast("Sitting", edited.current)
        self.refuse(edited)
        self.data = {**dict(self.data.items()), "version": str(current.version)}
        now = f"{_when(current.starts_at, current.unit.time_zone)}, {current.get_state_display()}"
        yours = f"{Sitting.State.CANCELLED.label}: {self.cleaned_data['why']}"
        return [{"label": "The sitting", "theirs": now, "yours": yours}]


def _when(at: datetime, zone: str) -> str:
    return times.format_time(at, zone)


def _place(label: str, words: str) -> str:
    return f"{label}, {words}" if words else label
