"""Forms of the family page, and the form that makes a link to it."""

import uuid
from typing import Any, cast

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.family_page import private_links
from orders.family_page.family_order import LookChoices, look_choices
from production.frames.models import FrameSpecification
from studio.versions import EditedMeanwhile
from studio.web.forms import HiddenInput, KeyedForm, StudioForm


class LookForm(KeyedForm):
    """The choice of backing and finish, with the version of the look that the family saw."""

    version = forms.IntegerField(widget=HiddenInput)

    def __init__(self, choices: LookChoices, data: Any = None) -> None:
        super().__init__(data, initial={"version": choices.version})
        self.choices = choices
        for question in choices.questions:
            self.fields[question.name] = forms.TypedChoiceField(
                label=question.label,
                choices=[
                    (each.pk, f"{each.label} ({each.difference})") for each in question.options
                ],
                coerce=int,
                initial=question.chosen,
                widget=forms.RadioSelect,
                error_messages={
                    "required": _("Choose one of these."),
                    "invalid_choice": _("Choose one of these."),
                },
            )

    @property
    def chosen(self) -> dict[str, int | None]:
        """The primary key of the chosen price for each question."""
        return {each.name: self.cleaned_data.get(each.name) for each in self.choices.questions}

    def with_conflict(self, edited: EditedMeanwhile) -> tuple["LookForm", list[dict[str, str]]]:
        """Return the form with the current version and this choice, and the fields that differ.

        Submitting that form overwrites the other change knowingly.
        """
        choices = look_choices(cast(FrameSpecification, edited.current).job.order)
        sent = {"version": str(choices.version), "key": str(uuid.uuid4())}
        again = LookForm(choices, {**dict(self.data.items()), **sent})
        again.refuse(edited)
        differences = [
            {"label": each.label, "theirs": theirs, "yours": yours}
            for each in choices.questions
            if (theirs := each.label_of(each.chosen))
            != (yours := each.label_of(self.chosen.get(each.name)))
        ]
        return again, differences


class AcceptForm(KeyedForm):
    """Acceptance of an offer, identified by `Offer.fingerprint` as shown on the page."""

    fingerprint = forms.CharField(
        widget=HiddenInput,
        error_messages={
            "required": gettext_lazy(
                "This page was sent without its price. Reload it and try again."
            )
        },
    )


class DeclineForm(AcceptForm):
    words = forms.CharField(
        label=gettext_lazy("What would you like instead?"),
        max_length=200,
        required=False,
        help_text=gettext_lazy("Leave it empty if you would rather speak with us."),
    )


class LinkForm(StudioForm):
    days = forms.TypedChoiceField(
        label="Opens for",
        choices=[(30, "a month"), (private_links.USUAL_DAYS, "four months"), (365, "a year")],
        initial=private_links.USUAL_DAYS,
        coerce=int,
    )
