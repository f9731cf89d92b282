"""Forms of the bench: pour, weighing, spoiled cast, rack place and framing."""

from collections.abc import Sequence
from typing import Any

from django import forms

from production import plaster
from production.bench.framing import FRAME_STEPS
from production.casts.models import Cast, Plaster
from production.fields import NumberField
from production.number_parsing import parse_number
from production.spoilage.models import SpoilReason
from studio.accounts.models import Unit
from studio.jobs.models import Piece
from studio.web.forms import KeyedForm, StageForm, StudioForm

GRAMS = forms.NumberInput(attrs={"inputmode": "numeric", "min": "1", "step": "1"})


class PourForm(KeyedForm):
    """Weights of one mix in grams and the pieces it is poured for; the page draws `pieces` with their predicted mixes."""

    pieces = forms.ModelMultipleChoiceField(
        queryset=Piece.objects.none(),
        error_messages={
            "required": "Tick at least one piece to pour.",
            "invalid_choice": "One of these pieces is not on your bench. Reload the page.",
        },
    )
    plaster_g = forms.IntegerField(label="Plaster", widget=GRAMS)
    water_g = forms.IntegerField(label="Water", widget=GRAMS)
    kind = forms.ModelChoiceField(
        label="Which plaster", queryset=Plaster.objects.none(), required=False, empty_label=None
    )
    left_g = forms.IntegerField(
        label="Left in the bucket",
        min_value=0,
        required=False,
        widget=GRAMS,
        help_text="If you weigh it: your next mix is worked out from it.",
    )
    note = forms.CharField(label="Note", max_length=200, required=False)

    def __init__(self, *args: Any, unit: Unit, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # All of the unit's, so that the same press sent twice reaches the action twice.
        pieces = Piece.objects.filter(job__unit=unit).select_related("child", "job")
        self.fields["pieces"].queryset = pieces  # type: ignore[attr-defined]
        self.fields["kind"].queryset = unit.plasters.in_use()  # type: ignore[attr-defined]

    def clean_plaster_g(self) -> int:
        return _above_zero(self.cleaned_data["plaster_g"], "plaster")

    def clean_water_g(self) -> int:
        return _above_zero(self.cleaned_data["water_g"], "water")

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        plaster_g, water_g = facts.get("plaster_g"), facts.get("water_g")
        if plaster_g and water_g:
            facts["consistency"] = round(100 * water_g / plaster_g)
            if not plaster.MIN_CONSISTENCY <= facts["consistency"] <= plaster.MAX_CONSISTENCY:
                self.add_error(
                    "water_g",
                    f"That is {facts['consistency']} parts of water to 100 of plaster; "
                    "it must lie between 20 and 120. Check both weights.",
                )
        return facts


class BagForm(StudioForm):
    """Plaster left in the bag, in grams, to show what it would fill; nothing is saved."""

    bag_g = NumberField(label="Left in the bag", low=1, high=25_000, strip="g", required=False)

    @property
    def grams(self) -> float | None:
        return self.cleaned_data["bag_g"] if self.is_valid() else None


class WeighForm(KeyedForm):
    mass_g = forms.CharField(
        label="The scale shows",
        widget=forms.TextInput(
            attrs={"inputmode": "decimal", "autocomplete": "off", "class": "weigh__input"}
        ),
        error_messages={"required": "Write what the scale shows."},
    )
    heavier_why = forms.CharField(
        label="Why this weight is right",
        max_length=200,
        required=False,
        help_text="Only if it is more than last time, or far less: it got wet, the felt is on it.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not self.is_bound:  # a refusal takes the focus itself
            self.fields["mass_g"].widget.attrs["autofocus"] = True

    def clean_mass_g(self) -> float:
        try:
            mass_g = parse_number(self.cleaned_data["mass_g"])
        except ValueError:
            raise forms.ValidationError("Write the weight in grams, like 352 or 352.5.") from None
        if not mass_g > 0:  # also not a number
            raise forms.ValidationError("A weight must be above 0 g.")
        return mass_g


class SpoilForm(KeyedForm):
    how = forms.ChoiceField(
        label="What is wrong", choices=Cast.Spoil.choices, widget=forms.RadioSelect
    )
    reason = forms.ModelChoiceField(
        label="In your own words", queryset=SpoilReason.objects.none(), required=False
    )
    why = forms.CharField(label="What happened", max_length=200)
    print_whole = forms.TypedChoiceField(
        label="Is its print in the clay still whole?",
        choices=[
            ("yes", "Whole: it is poured again"),
            ("no", "Lost: the child must be seen again"),
        ],
        coerce=lambda answer: answer == "yes",
        widget=forms.RadioSelect,
        error_messages={"required": "Say whether it can be poured again."},
    )

    def __init__(self, *args: Any, reasons: Sequence[SpoilReason] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not reasons:
            del self.fields["reason"]
            return
        listed = SpoilReason.objects.filter(pk__in=[each.pk for each in reasons])
        self.fields["reason"].queryset = listed  # type: ignore[attr-defined]


class PlaceForm(KeyedForm):
    """A choice among the `free` drying rack places; the action checks again that the place is free."""

    place = forms.IntegerField(label="Place on the rack", widget=forms.Select)

    def __init__(self, *args: Any, free: list[int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"].widget.choices = [(number, number) for number in free]


class StartFramingForm(StageForm):
    glazed = forms.TypedChoiceField(
        choices=[("yes", "behind glass"), ("no", "left open")],
        coerce=lambda answer: answer == "yes",
        error_messages={"required": "Say whether the frame is glazed or left open."},
    )


class TickForm(KeyedForm):
    step = forms.ChoiceField(choices=[(step, step) for step in FRAME_STEPS])
    done = forms.TypedChoiceField(
        choices=[("yes", "done"), ("no", "not done")], coerce=lambda answer: answer == "yes"
    )


class ReopenForm(StageForm):
    why = forms.CharField(label="What is wrong with the frame", max_length=200)


def _above_zero(mass_g: int, name: str) -> int:
    if mass_g <= 0:
        raise forms.ValidationError(f"The {name} must weigh above 0 g.")
    return mass_g
