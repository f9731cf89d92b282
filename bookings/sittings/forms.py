from django import forms

from bookings.sittings.models import ClayPrint
from studio.stages import Refused
from studio.versions import EditedMeanwhile
from studio.web.forms import HiddenInput, KeyedForm


class PrintForm(KeyedForm):
    outcome = forms.ChoiceField(
        choices=[
            choice for choice in ClayPrint.Outcome.choices if choice[0] != ClayPrint.Outcome.PLANNED
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
        """Show the refusal; after an edit conflict, sending the form again overwrites the other version."""
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
