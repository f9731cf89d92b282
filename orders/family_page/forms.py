"""What a family may choose on its own page, and for how long the studio opens it to them."""

import uuid
from typing import Any, cast

from django import forms

from orders.family_page import private_links
from orders.family_page.look_choices import LookAsked, look_asked
from production.frames.models import FrameSpecification
from studio.versions import EditedMeanwhile
from studio.web.forms import HiddenInput, KeyedForm, StudioForm


class LookForm(KeyedForm):
    """Backing and finish of an order, on the version of it that the family saw."""

    version = forms.IntegerField(widget=HiddenInput)

    def __init__(self, asked: LookAsked, data: Any = None) -> None:
        super().__init__(data, initial={"version": asked.version})
        self.asked = asked
        for question in asked.questions:
            self.fields[question.name] = forms.TypedChoiceField(
                label=question.label,
                choices=[
                    (each.pk, f"{each.label} ({each.difference})") for each in question.offered
                ],
                coerce=int,
                initial=question.chosen,
                widget=forms.RadioSelect,
                error_messages={
                    "required": "Choose one of these.",
                    "invalid_choice": "Choose one of these.",
                },
            )

    @property
    def chosen(self) -> dict[str, int | None]:
        """The key of what was chosen for each question."""
        return {each.name: self.cleaned_data.get(each.name) for each in self.asked.questions}

    def retold(self, edited: EditedMeanwhile) -> tuple["LookForm", list[dict[str, str]]]:
        """The form on what stands now, still with this choice, and both versions side by side.

        Sending it again then means: mine, having seen theirs.
        """
        asked = look_asked(cast(FrameSpecification, edited.current).job.order)
        sent = {"version": str(asked.version), "key": str(uuid.uuid4())}
        again = LookForm(asked, {**dict(self.data.items()), **sent})
        again.refuse(edited)
        differences = [
            {"label": each.label, "theirs": theirs, "yours": yours}
            for each in asked.questions
            if (theirs := each.label_of(each.chosen))
            != (yours := each.label_of(self.chosen.get(each.name)))
        ]
        return again, differences


class AcceptForm(KeyedForm):
    """Yes to the price and to all that is told with it, as this page showed it (`Offer.seen`)."""

    seen = forms.CharField(
        widget=HiddenInput,
        error_messages={
            "required": "This page was sent without its price. Reload it and try again."
        },
    )


class DeclineForm(AcceptForm):
    words = forms.CharField(
        label="What would you like instead?",
        max_length=200,
        required=False,
        help_text="Leave it empty if you would rather speak with us.",
    )


class LinkForm(StudioForm):
    days = forms.TypedChoiceField(
        label="Opens for",
        choices=[(30, "a month"), (private_links.USUAL_DAYS, "four months"), (365, "a year")],
        initial=private_links.USUAL_DAYS,
        coerce=int,
    )
