"""The forms of enquiries, sittings, impressions, consent and photographs."""

from collections.abc import Sequence
from datetime import date, datetime, time
from typing import Any, cast

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator

from bookings import objections, photos, slots
from bookings.diary import FIRST_YEAR, LAST_YEAR
from bookings.models import Consent, Enquiry, Impression, Photo, Sitting
from studio import units
from studio.actions import EditedMeanwhile
from studio.forms import DateInput, HiddenInput, KeyedForm, WhyForm
from studio.models import Child, Job, Limb, Piece, Unit
from studio.stages import Refused


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
    """The network office sends an enquiry on: where it came from is known."""

    class Meta(EnquiryForm.Meta):
        fields = ["name", "phone", "email", "postcode", "words"]


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
        label="Length in minutes", min_value=5, max_value=objections.MAX_MINUTES
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
            self.cleaned_data["starts_at"] = slots.to_utc(on, clock, self.unit.time_zone)
        except ValueError as skipped:
            self.add_error("clock", str(skipped))

    @property
    def facts(self) -> dict[str, Any]:
        """What the actions take."""
        names = ("starts_at", "minutes", "place", "place_words", "young_why", "key")
        return {name: self.cleaned_data[name] for name in names}

    def show_conflict(self, edited: EditedMeanwhile) -> list[dict[str, str]]:
        """Refuse, and return what stands now beside what was written: of a new row, nothing."""
        self.refuse(edited)
        return []

    @property
    def day(self) -> date | None:
        """The day the form is about, as far as it can be read."""
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
        """Whether the promise is to be what the plan can keep; the usual days where nobody says."""
        return bool(self.cleaned_data["promise"] == "plan")

    @property
    def grid(self) -> list[dict[str, Any]]:
        """A row for each child, a box for each limb."""
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
        """Refuse, keep what was written, and return what stands now beside it."""
        current = cast("Sitting", edited.current)
        self.refuse(edited)
        self.data = {**dict(self.data.items()), "version": str(current.version)}
        zone = self.unit.time_zone
        place = Sitting.Place(self.cleaned_data["place"])
        told = [
            ("When", _when(current.starts_at, zone), _when(self.cleaned_data["starts_at"], zone)),
            ("Where", _place(current.get_place_display(), current.place_words),
             _place(place.label, self.cleaned_data["place_words"])),
            ("State", current.get_state_display(), Sitting.State.PLANNED.label),
        ]  # fmt: skip
        return [
            {"label": label, "theirs": theirs, "yours": yours}
            for label, theirs, yours in told
            if theirs != yours
        ]


class CancelForm(WhyForm):
    version = forms.IntegerField(widget=HiddenInput)

    @property
    def facts(self) -> dict[str, Any]:
        """What the action takes."""
        written = dict(self.cleaned_data)
        return {"seen_version": written.pop("version"), **written}

    def show_conflict(self, edited: EditedMeanwhile) -> list[dict[str, str]]:
        """Refuse, keep the reason, and return what stands now beside it."""
        current = cast("Sitting", edited.current)
        self.refuse(edited)
        self.data = {**dict(self.data.items()), "version": str(current.version)}
        now = f"{_when(current.starts_at, current.unit.time_zone)}, {current.get_state_display()}"
        yours = f"{Sitting.State.CANCELLED.label}: {self.cleaned_data['why']}"
        return [{"label": "The sitting", "theirs": now, "yours": yours}]


class ImpressionForm(KeyedForm):
    outcome = forms.ChoiceField(
        choices=[
            choice
            for choice in Impression.Outcome.choices
            if choice[0] != Impression.Outcome.PLANNED
        ],
        widget=HiddenInput,
        error_messages={
            "required": "Press one of the answers.",
            "invalid_choice": "Press one of the answers.",
        },
    )
    tray = forms.CharField(label="Tray", max_length=10, required=False)
    note = forms.CharField(label="Note", max_length=200, required=False)
    seen_version = forms.IntegerField(required=False, widget=HiddenInput)

    def refuse(self, refusal: Refused) -> None:
        """Sending the form again after somebody else spoke means: mine, having seen theirs."""
        super().refuse(refusal)
        if isinstance(refusal, EditedMeanwhile):
            seen = str(refusal.current.version)
            self.data = {**dict(self.data.items()), "seen_version": seen}


class FinishForm(KeyedForm):
    put_off = forms.ChoiceField(
        label="What becomes of the pieces that were not taken?",
        choices=[
            ("split", "They wait for a sitting of their own"),
            ("leave", "They are left off the order"),
        ],
        initial="split",
        widget=forms.RadioSelect,
        error_messages={"required": "Say what becomes of the pieces that were not taken."},
    )


class ConsentForm(KeyedForm):
    purpose = forms.ChoiceField(choices=Consent.Purpose.choices, widget=HiddenInput)
    given_by = forms.CharField(
        label="Who says yes",
        max_length=80,
        error_messages={"required": "Write who says yes."},
    )


class PhotoForm(KeyedForm):
    photo = forms.FileField(
        label="Photograph",
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp,image/heic"}),
        help_text="JPEG, PNG, WebP or HEIC, up to 50 MB. Place and time are taken out of it.",
        error_messages={
            "required": "Choose a photograph.",
            "empty": "This file is empty: take the photograph again, or send it once more.",
        },
    )
    kind = forms.ChoiceField(
        label="It shows", choices=Photo.Kind.choices, initial=Photo.Kind.SITTING
    )
    piece = forms.ModelChoiceField(
        label="Which piece", queryset=Piece.objects.none(), required=False, empty_label="all of it"
    )

    def __init__(self, *args: Any, job: Job, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        pieces = self.fields["piece"]
        pieces.queryset = job.pieces.on_the_job().select_related("child")  # type: ignore[attr-defined]

    def clean_photo(self) -> photos.CleanPhoto:
        try:
            return photos.clean(self.cleaned_data["photo"])
        except photos.PhotoRefused as refused:
            raise forms.ValidationError(str(refused)) from None

    @property
    def facts(self) -> dict[str, Any]:
        """What the action takes."""
        written = dict(self.cleaned_data)
        return {"clean": written.pop("photo"), **written}


def _when(at: datetime, zone: str) -> str:
    return slots.format_time(at, zone)


def _place(label: str, words: str) -> str:
    return f"{label}, {words}" if words else label
