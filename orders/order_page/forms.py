"""Forms to hand a job over or call it off."""

from typing import Any

from django import forms

from orders.event_words import WAYS_HOME
from orders.order import totals
from studio import money
from studio.jobs.models import Job
from studio.stages import Stage, missing
from studio.web.fields import MoneyField
from studio.web.forms import StageForm


class HandOverForm(StageForm):
    how = forms.ChoiceField(
        label="How it goes home",
        choices=[(way, words.rstrip(".")) for way, words in WAYS_HOME.items()],
        widget=forms.RadioSelect,
        initial="collected",
    )


class CallOffForm(StageForm):
    why = forms.CharField(
        label="Why", max_length=200, error_messages={"required": "Write why it is called off."}
    )

    def __init__(self, currency: str, data: Any = None, *, seen: str, paid_minor: int) -> None:
        super().__init__(data, initial={"seen": seen})
        # Without a payment there is nothing to retain.
        if paid_minor > 0:
            self.fields["keep_minor"] = MoneyField(
                currency=currency,
                label=f"Keep of the {money.display(paid_minor, currency)} paid",
                initial=0,
                help_text="Keep only what the job has really cost you; the rest goes back.",
            )

    def clean(self) -> dict[str, Any]:
        return {"keep_minor": 0} | (super().clean() or {})


def call_off_form(job: Job, data: Any = None) -> CallOffForm:
    """Return the form to call a job off; it asks how much to retain if anything was paid."""
    order = totals.order_of(job)
    paid_minor = totals.sums(order).paid_minor if order else 0
    return CallOffForm(job.unit.currency, data, seen=job.stage, paid_minor=paid_minor)


def hand_over_obstacles(job: Job) -> list[str]:
    """Return what prevents a ready job from being handed over, one sentence each; [] before it is
    ready.
    """
    return missing(job, Stage.HANDED_OVER) if job.stage == Stage.READY else []


def hand_over_form(job: Job, obstacles: list[str]) -> HandOverForm | None:
    """Return the hand-over form, None while the job may not be handed over."""
    may_go = job.stage == Stage.READY and not obstacles
    return HandOverForm(initial={"seen": job.stage}) if may_go else None
