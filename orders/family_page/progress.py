"""The progress of a job in the family's words, without stage codes or weights; pure.

The day is an argument. Every sentence goes through gettext.
"""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext

from studio import units

Stage = Literal[
    "booked", "clay_rest", "casting", "drying", "framing", "ready", "handed_over", "called_off"
]

Place = Literal["home", "studio", "elsewhere"]

# The stages of a job in order, with their names for the family.
STEPS: dict[str, str] = {
    "booked": gettext_noop("Sitting"),
    "clay_rest": gettext_noop("In the clay"),
    "casting": gettext_noop("Plaster"),
    "drying": gettext_noop("Drying"),
    "framing": gettext_noop("Framing"),
    "ready": gettext_noop("Ready"),
    "handed_over": gettext_noop("Home"),
}

_PLACES: dict[Place, str] = {
    "home": gettext_noop("at your home"),
    "studio": gettext_noop("at the studio"),
    "elsewhere": gettext_noop("at the place we agreed"),
}

_MOST_DAYS_TO_SAY = 28


@dataclass(frozen=True, slots=True)
class Sitting:
    """A planned sitting, in the unit's local time."""

    starts_at: datetime
    minutes: int
    place: Place


@dataclass(frozen=True, slots=True)
class Facts:
    """What the status depends on.

    `stage` was reached on the day `since`, from the stage `came_from`. `days_to_go` counts until
    the slowest cast is probably dry, None if none is damp; `stopped` means that the family has
    withdrawn its consent to the casts.
    """

    stage: Stage
    since: date
    came_from: str | None = None
    sitting: Sitting | None = None
    days_to_go: int | None = None
    stopped: bool = False


@dataclass(frozen=True, slots=True)
class Status:
    """The current state of a job: a heading and one or two sentences."""

    heading: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Change:
    """The last change of the promised day: from (None if unknown), to, and why."""

    before: date | None
    to: date
    why: str


@dataclass(frozen=True, slots=True)
class Promise:
    """The promised day as shown to the family; `late` while it has passed."""

    heading: str
    sentence: str
    late: bool


def strip_labels() -> dict[str, str]:
    """Return the translated labels of the stages of a completed job, in order."""
    return {stage: _(label) for stage, label in STEPS.items()}


def status(facts: Facts, today: date) -> Status:
    """Return where the casts are and what comes next."""
    if facts.stopped:
        return Status(
            _("The work has stopped"),
            _("You took back your yes to the casts. We shall speak with you about your order."),
        )
    if facts.stage == "booked":
        return _before_the_sitting(facts, today)
    if facts.stage == "drying":
        return _drying(facts.days_to_go)
    if facts.stage == "clay_rest" and _went_back(facts.came_from, facts.stage):
        return Status(
            _("To be poured again"),
            _(
                "A cast did not come out well enough to give you. The print in the clay is whole, "
                "so we pour it again; you need do nothing."
            ),
        )
    heading, sentence = _STATUS_BY_STAGE[facts.stage]
    return Status(_(heading) % {"day": units.day(facts.since, today)}, _(sentence))


def promise(
    promised_on: date | None, stage: Stage, change: Change | None, today: date
) -> Promise | None:
    """Return the promised day for the family, None if it no longer matters.

    `change` is ignored if it does not lead to `promised_on`, because its reason would be wrong.
    """
    if stage in ("ready", "handed_over", "called_off"):
        return None
    if promised_on is None:
        return Promise(
            _("No day promised yet"),
            _("We promise a day as soon as the sitting is agreed."),
            late=False,
        )
    change = change if change and change.to == promised_on else None
    day = {"day": units.day(promised_on, today)}
    heading = _("Promised for %(day)s") % day
    if promised_on < today:
        sentence = _(
            "We promised %(day)s and are late. We are sorry: call or write if the day matters."
        )
        return Promise(heading, _joined(sentence % day, _history(change, today)), late=True)
    if change and change.before and change.before < promised_on:
        return _put_off(change, change.before, today)
    return Promise(heading, _history(change, today), late=False)


def event_text(what: str, came_from: str, to: str, *, by_family: bool) -> str:
    """Return a history event as the family reads it, "" for an internal event.

    `what` is the kind of `JobEvent`, `came_from` and `to` are its stages; `by_family` if it has no
    person of the studio.
    """
    if what == "move":
        found = (_BACK_AT if _went_back(came_from, to) else _CAME_TO).get(to)
    elif by_family and what in _BY_YOU:
        found = _BY_YOU[what]
    else:
        found = _DONE.get(what)
    return _(found) if found else ""


def _before_the_sitting(facts: Facts, today: date) -> Status:
    again = _went_back(facts.came_from, "booked")
    sorry = _("A print did not last, so we would like to take it again.") if again else ""
    sitting = facts.sitting
    if sitting is None:
        return Status(
            _("Another sitting is needed") if again else _("No day for the sitting yet"),
            _joined(sorry, _("Call or write to us to agree a day that suits your child.")),
        )
    on = sitting.starts_at.date()
    time = f"{sitting.starts_at:%H:%M}"
    if on < today:
        return Status(
            _("The sitting was on %(day)s") % {"day": units.day(on, today)},
            _joined(sorry, _("The studio is writing it up; the next step shows here soon.")),
        )
    comes = _(
        "It is %(place)s and takes about %(minutes)s minutes; one of you holds the child. "
        "If your child is not well that day, tell us and we find another."
    )
    facts_of_it = {"place": _(_PLACES[sitting.place]), "minutes": sitting.minutes}
    return Status(
        _on(on, today) % {"day": units.day(on, today), "time": time},
        _joined(sorry, comes % facts_of_it),
    )


def _drying(days_to_go: int | None) -> Status:
    if days_to_go is None:
        return Status(_("Dry: framing comes next"), _("Every cast is dry right through."))
    if days_to_go > _MOST_DAYS_TO_SAY:
        return Status(
            _("Drying: some weeks more"), _("Plaster dries slowly and cannot be hurried.")
        )
    heading = ngettext(
        "Drying: about %(days)s more day", "Drying: about %(days)s more days", days_to_go
    )
    return Status(
        heading % {"days": days_to_go},
        _(
            "Plaster dries slowly and cannot be hurried. We check each cast until it is dry right "
            "through, so this is a good guess and no promise."
        ),
    )


def _on(on: date, today: date) -> str:
    """The heading of a sitting to come, for its `day` and `time`."""
    if on == today:
        return _("The sitting is today, %(day)s, at %(time)s")
    if (on - today).days == 1:
        return _("The sitting is tomorrow, %(day)s, at %(time)s")
    return _("The sitting is on %(day)s at %(time)s")


def _put_off(change: Change, before: date, today: date) -> Promise:
    late = before < today
    sentence = (
        _("We promised %(day)s and are late.")
        if late
        else _("We promised %(day)s and need longer.")
    )
    reason = _("The reason: %(why)s") % {"why": _sentence(change.why)} if change.why else ""
    return Promise(
        _("Now promised for %(day)s") % {"day": units.day(change.to, today)},
        _joined(sentence % {"day": units.day(before, today)}, reason, _("We are sorry.")),
        late=late,
    )


def _history(change: Change | None, today: date) -> str:
    if change is None:
        return ""
    moved = reason = ""
    if change.before:
        moved = _("The day was %(day)s before.") % {"day": units.day(change.before, today)}
    if change.why:
        reason = _("Why it changed: %(why)s") % {"why": _sentence(change.why)}
    return _joined(moved, reason)


def _went_back(came_from: str | None, to: str) -> bool:
    way = list(STEPS)
    return came_from in way and to in way and way.index(to) < way.index(came_from)


def _sentence(text: str) -> str:
    return text if text.endswith((".", "!", "?", "…")) else f"{text}."


def _joined(*sentences: str) -> str:
    return " ".join(sentence for sentence in sentences if sentence)


_STATUS_BY_STAGE: dict[Stage, tuple[str, str]] = {
    "clay_rest": (
        gettext_noop("In the clay"),
        gettext_noop("The prints rest in the clay, covered. Plaster is poured into them next."),
    ),
    "casting": (
        gettext_noop("In plaster"),
        gettext_noop(
            "The plaster is poured and sets. Then the casts come out of the clay and begin to dry."
        ),
    ),
    "framing": (
        gettext_noop("Being framed"),
        gettext_noop("The casts are dry. They are set on their backing and framed in oak."),
    ),
    "ready": (
        gettext_noop("Ready to come home"),
        gettext_noop(
            "The frame is finished and checked. Call or write to agree how it comes to you."
        ),
    ),
    "handed_over": (
        gettext_noop("Home since %(day)s"),
        gettext_noop(
            "We hope that it gives you joy for a long time. Should anything be wrong, tell us."
        ),
    ),
    "called_off": (
        gettext_noop("Called off on %(day)s"),
        gettext_noop(
            "This order goes no further. If that is not what you expected, call or write to us."
        ),
    ),
}

_CAME_TO: dict[str, str] = {
    "clay_rest": gettext_noop("The prints were taken."),
    "casting": gettext_noop("The plaster was poured."),
    "drying": gettext_noop("The casts came out of the clay and began to dry."),
    "framing": gettext_noop("Framing began."),
    "ready": gettext_noop("The frame was finished and checked."),
    "handed_over": gettext_noop("It went home."),
    "called_off": gettext_noop("The order was called off."),
}

_BACK_AT: dict[str, str] = {
    "booked": gettext_noop("A print did not last and is to be taken again."),
    "clay_rest": gettext_noop("A cast did not come out well enough and is to be poured again."),
    "framing": gettext_noop("The frame went back to the bench to be put right."),
}

_BY_YOU: dict[str, str] = {
    "accept_quote": gettext_noop("You ordered at the price shown."),
    "decline_quote": gettext_noop("You said no to the price."),
    "choose_look": gettext_noop("You chose the backing and the finish."),
    "withdraw_consent": gettext_noop("You withdrew a consent."),
}

_DONE: dict[str, str] = {
    "open_job": gettext_noop("Your order was opened."),
    "book_again": gettext_noop("A day for another sitting was agreed."),
    "move_sitting": gettext_noop("The sitting moved to another time."),
    "cancel_sitting": gettext_noop("The sitting was cancelled."),
    "leave_off_piece": gettext_noop("A piece was taken off the order."),
    "take_piece_back": gettext_noop("A piece was put back on the order."),
    "promise": gettext_noop("The promised day changed."),
    "weigh": gettext_noop("We checked how dry the casts are."),
    "accept_quote": gettext_noop("You agreed to the price."),
    "choose_look": gettext_noop("Backing and finish were noted."),
    "add_extra": gettext_noop("Something was added to the order."),
    "add_reduction": gettext_noop("A reduction was noted."),
    "drop_line": gettext_noop("A line was taken off the order."),
    "take_payment": gettext_noop("Your payment came in."),
    "reverse_payment": gettext_noop("A payment was taken back out of the books."),
    "issue_invoice": gettext_noop("An invoice was written."),
    "credit_invoice": gettext_noop("A credit note was written."),
    "withdraw_consent": gettext_noop("A consent was withdrawn."),
    "erase_photos": gettext_noop("Your photographs were erased."),
}
