"""Base classes of the forms: with a key against repeats, with the stage seen, with the version seen."""

import uuid
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from studio.stages import ActionRefused, Refused, Stage
from studio.versions import EditedMeanwhile


class HiddenInput(forms.HiddenInput):
    """Hidden input without an id: several forms on one page would repeat it."""

    def __init__(self) -> None:
        super().__init__(attrs={"id": False})


class StudioForm(forms.Form):
    """A form that shows the refusal of an action like its own errors."""

    def full_clean(self) -> None:
        """Replace Django's message for a missing value by a plainer one, unless the field has its own."""
        usual = forms.Field.default_error_messages["required"]
        for field in self.fields.values():
            if field.error_messages.get("required") == usual:
                field.error_messages["required"] = _("This is still needed.")
        super().full_clean()

    def refuse(self, refusal: Refused) -> None:
        """Show the reasons of a refusal as errors of the whole form."""
        for reason in refusal.reasons:
            self.add_error(None, reason)

    @property
    def reasons(self) -> list[str]:
        """All errors as sentences, for a button without visible fields."""
        return [str(error) for errors in self.errors.values() for error in errors]

    def validated(self) -> dict[str, Any]:
        """Cleaned data of a button's form. Raises ActionRefused if it was tampered with or the page is outdated."""
        if not self.is_valid():
            raise ActionRefused(*self.reasons)
        return self.cleaned_data


class KeyedForm(StudioForm):
    """A form with an idempotency key, made when the page is: submitted twice, it writes once."""

    key = forms.UUIDField(
        widget=HiddenInput,
        error_messages={
            "required": _("This page was sent without its key. Reload it and press again."),
            "invalid": _("This page was sent with a broken key. Reload it and press again."),
        },
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["key"].initial = uuid.uuid4


class StageForm(KeyedForm):
    """A form with the stage that the person saw."""

    seen = forms.TypedChoiceField(choices=Stage.choices, coerce=Stage, widget=HiddenInput)


class DateInput(forms.DateInput):
    input_type = "date"

    def __init__(self, **attrs: Any) -> None:
        super().__init__(format="%Y-%m-%d", attrs=attrs)


class EditForm(StudioForm):
    """A form for a row with a version, so that the second of two editors is warned."""

    version = forms.IntegerField(widget=HiddenInput, initial=1)

    @property
    def facts(self) -> dict[str, Any]:
        """Cleaned data by the names of the row's fields, without the version."""
        return {name: value for name, value in self.cleaned_data.items() if name != "version"}

    def show_conflict(self, edited: EditedMeanwhile) -> list[dict[str, Any]]:
        """Show an edit conflict, keep the input, and return the fields that differ, with both values.

        The form then carries the current version: submitting it again overwrites knowingly.
        """
        self.refuse(edited)
        self.data = {
            **dict(self.data.items()),
            self.add_prefix("version"): str(edited.current.version),
        }
        return [
            {"label": self.fields[name].label, "theirs": theirs, "yours": yours}
            for name, yours in self.facts.items()
            if (theirs := getattr(edited.current, name)) != yours
        ]
