"""The forms of the range, of a job's frame, of the rack and of a cutting."""

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from django import forms

from production.frames import materials
from production.frames.models import FrameHabits, FrameSize, FrameSpecification, Moulding, Offcut
from production.stock.models import Material
from studio.accounts.models import Unit
from studio.jobs.models import Job
from studio.web.forms import EditForm, HiddenInput, KeyedForm

if TYPE_CHECKING:
    from django.db.models import QuerySet


def _by_hand(unit: Unit, kind: str, measure: str) -> "QuerySet[Material]":
    """What a cutting may take from: what a frame begun takes by itself would be taken twice."""
    by_hand = unit.materials.used_at(Material.UsedAt.HAND)
    return by_hand.filter(kind=kind, measure=measure)


class FrameHabitsForm(EditForm, forms.ModelForm["FrameHabits"]):
    class Meta:
        model = FrameHabits
        exclude = ["unit", "version"]  # noqa: DJ006 - all of it is the owner's to say

    def __init__(self, *args: Any, instance: FrameHabits, **kwargs: Any) -> None:
        kwargs |= {"instance": instance, "initial": {"version": instance.version}}
        super().__init__(*args, **kwargs)
        for name, kind in (("board_material", "board"), ("glass_material", "glazing")):
            self.fields[name].queryset = _by_hand(instance.unit, kind, "mm2")  # type: ignore[attr-defined]


class MouldingForm(EditForm, forms.ModelForm["Moulding"]):
    class Meta:
        model = Moulding
        fields = [
            "name",
            "face_mm",
            "height_mm",
            "rebate_mm",
            "rebate_depth_mm",
            "allowance_mm",
            "loss_mm",
            "stock_mm",
            "material",
        ]

    def __init__(self, *args: Any, unit: Unit, **kwargs: Any) -> None:
        instance = kwargs.get("instance") or Moulding(unit=unit)
        kwargs |= {"instance": instance, "initial": {"version": instance.version}}
        super().__init__(*args, **kwargs)
        self.fields["material"].queryset = _by_hand(unit, "moulding", "mm")  # type: ignore[attr-defined]

    def _get_validation_exclusions(self) -> set[str]:
        # No fields of the form, but a name is taken within a unit, and by a moulding in use only.
        usual: set[str] = super()._get_validation_exclusions()  # type: ignore[misc]
        return usual - {"unit", "retired_at"}


class FrameSizeForm(KeyedForm, forms.ModelForm["FrameSize"]):
    class Meta:
        model = FrameSize
        fields = ["name", "width_mm", "height_mm"]

    def __init__(self, *args: Any, unit: Unit, **kwargs: Any) -> None:
        super().__init__(*args, instance=FrameSize(unit=unit), **kwargs)

    def _get_validation_exclusions(self) -> set[str]:
        # No field of the form, but a size stands once in a unit's range.
        usual: set[str] = super()._get_validation_exclusions()  # type: ignore[misc]
        return usual - {"unit"}


class FrameForm(EditForm, KeyedForm, forms.ModelForm["FrameSpecification"]):
    class Meta:
        model = FrameSpecification
        fields = ["moulding", "width_mm", "height_mm", "matched", "plate"]
        help_texts = {
            "moulding": "None: the first of your range.",
            "width_mm": "Leave both empty, and the smallest of your range that holds the casts is taken.",
        }

    def __init__(self, *args: Any, job: Job, **kwargs: Any) -> None:
        instance = FrameSpecification.of(job)
        kwargs |= {"instance": instance, "initial": {"version": instance.version}}
        super().__init__(*args, **kwargs)
        in_use = job.unit.mouldings.filter(retired_at=None)
        self.fields["moulding"].queryset = in_use  # type: ignore[attr-defined]

    @property
    def facts(self) -> dict[str, Any]:
        return {name: value for name, value in super().facts.items() if name != "key"}

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        if not self.errors and bool(facts.get("width_mm")) != bool(facts.get("height_mm")):
            missing = "height_mm" if facts.get("width_mm") else "width_mm"
            self.add_error(missing, "Write both sides, or neither.")
        return facts


class OffcutForm(KeyedForm, forms.ModelForm["Offcut"]):
    class Meta:
        model = Offcut
        fields = ["moulding", "length_mm", "defect_from_mm", "defect_to_mm"]
        help_texts = {"defect_from_mm": "From its left end; no rail is laid over it."}

    def __init__(self, *args: Any, unit: Unit, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        in_use = unit.mouldings.filter(retired_at=None)
        self.fields["moulding"].queryset = in_use  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        start, end = facts.get("defect_from_mm"), facts.get("defect_to_mm")
        if not self.errors and (start is None) != (end is None):
            self.add_error("defect_to_mm", "Write where the defect begins and where it ends.")
        return facts


class CuttingForm(KeyedForm):
    """Which frames were cut, and which drawing was followed."""

    moulding = forms.ModelChoiceField(queryset=Moulding.objects.none(), widget=HiddenInput)
    jobs = forms.ModelMultipleChoiceField(
        queryset=Job.objects.none(), widget=forms.MultipleHiddenInput
    )
    seal = forms.CharField(max_length=16, widget=HiddenInput)
    also = forms.MultipleChoiceField(
        choices=[(each, each) for each in (materials.BOARDS, materials.GLASS)], required=False
    )
    beyond = forms.BooleanField(required=False, widget=HiddenInput)

    def __init__(self, *args: Any, unit: Unit, jobs: Iterable[Job] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["moulding"].queryset = unit.mouldings.all()  # type: ignore[attr-defined]
        self.fields["jobs"].queryset = unit.jobs.all()  # type: ignore[attr-defined]
        self.fields["jobs"].error_messages["required"] = "Tick the frames that you cut."
