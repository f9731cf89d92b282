"""Where a job is, in the words of its family: never a stage's code, never a weight. Pure.

The day comes in. Stages are the values of `studio.stages.Stage`, which needs Django.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from studio import units

Stage = Literal[
    "booked", "clay_rest", "casting", "drying", "framing", "ready", "handed_over", "called_off"
]
Place = Literal["home", "studio", "elsewhere"]

# The way of a job, in order, with the family's word for each step.
STEPS: dict[Stage, str] = {
    "booked": "Sitting",
    "clay_rest": "In the clay",
    "casting": "Plaster",
    "drying": "Drying",
    "framing": "Framing",
    "ready": "Ready",
    "handed_over": "Home",
}
_WAY: tuple[Stage, ...] = tuple(STEPS)

_PLACES: dict[Place, str] = {
    "home": "at your home",
    "studio": "at the studio",
    "elsewhere": "at the place we agreed",
}
# Days in words; with figures only in sentences that were kept before days were said in words.
_DAY = r"[0-9]{1,2} [A-Z][a-z]{2} [0-9]{4}|[0-9]{2}\.[0-9]{2}\.[0-9]{4}"
_CHANGED = re.compile(rf"(?:(?P<before>{_DAY}) → )?(?P<to>{_DAY}): (?P<why>.*)", re.DOTALL)
_MOST_DAYS_TO_SAY = 28


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the strip: `state` is "done", "now" or "ahead"; `day` when it began."""

    label: str
    state: Literal["done", "now", "ahead"]
    day: date | None


@dataclass(frozen=True, slots=True)
class Sitting:
    """A planned sitting, in the unit's local time."""

    starts_at: datetime
    minutes: int
    place: Place


@dataclass(frozen=True, slots=True)
class Facts:
    """What the words rest on. `days_to_go`: until the slowest cast is probably dry; None for none damp.

    `stopped`: the family took back its yes to the casts.
    """

    stage: Stage
    since: date
    came_from: str | None = None
    sitting: Sitting | None = None
    days_to_go: int | None = None
    stopped: bool = False


@dataclass(frozen=True, slots=True)
class Words:
    """A heading and one or two sentences."""

    heading: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Change:
    """The last change of the promised day: from which (where known), to which, and why."""

    before: date | None
    to: date
    why: str


@dataclass(frozen=True, slots=True)
class Promise:
    """The promised day said to the family; `late` only while the work is late."""

    heading: str
    sentence: str
    late: bool


def steps(stage: Stage, reached: Mapping[str, date]) -> tuple[Step, ...]:
    """The strip of a job at `stage`; `reached` holds the day on which it last came to each stage.

    A called-off job shows nothing as under way: only how far it had come.
    """
    if stage == "called_off":
        return tuple(Step(STEPS[each], "done", reached[each]) for each in _WAY if each in reached)
    at = _WAY.index(stage)
    finished = stage == "handed_over"
    return tuple(
        Step(
            STEPS[each],
            "done" if place < at or finished else "now" if place == at else "ahead",
            reached.get(each) if place <= at else None,
        )
        for place, each in enumerate(_WAY)
    )


def where(facts: Facts, today: date) -> Words:
    """Where the casts are and what comes next."""
    if facts.stopped:
        return Words(
            "The work has stopped",
            "You took back your yes to the casts. We shall speak with you about your order.",
        )
    if facts.stage == "booked":
        return _before_the_sitting(facts, today)
    if facts.stage == "drying":
        return _drying(facts.days_to_go)
    if facts.stage == "clay_rest" and _went_back(facts.came_from, facts.stage):
        return Words(
            "To be poured again",
            "A cast did not come out well enough to give you. The print in the clay is whole, so we "
            "pour it again; you need do nothing.",
        )
    heading, sentence = _PLAIN_WORDS[facts.stage]
    return Words(heading.format(day=units.day(facts.since, today)), sentence)


def promise(
    promised_on: date | None, stage: Stage, change: Change | None, today: date
) -> Promise | None:
    """The promised day, kindly and honestly; None where it no longer matters.

    `change` is left out where the day was set anew since, because its reason then says nothing.
    """
    if stage in ("ready", "handed_over", "called_off"):
        return None
    if promised_on is None:
        return Promise(
            "No day promised yet", "We promise a day as soon as the sitting is agreed.", late=False
        )
    change = change if change and change.to == promised_on else None
    day = units.day(promised_on, today)
    if promised_on < today:
        said = f"We promised {day} and are late. We are sorry: call or write if the day matters."
        return Promise(f"Promised for {day}", _joined(said, _history(change, today)), late=True)
    if change and change.before and change.before < promised_on:
        return _put_off(change, change.before, today)
    return Promise(f"Promised for {day}", _history(change, today), late=False)


def read_change(text: str) -> Change | None:
    """The reason of a `promise` event: "26 Nov 2026 → 3 Dec 2026: The week was too damp."

    None for any other text or a day that does not exist.
    """
    found = _CHANGED.fullmatch(text)
    if found is None:
        return None
    try:
        before = _read_day(found["before"]) if found["before"] else None
        return Change(before, _read_day(found["to"]), found["why"].strip())
    except ValueError:
        return None


def _read_day(text: str) -> date:
    if "." not in text:
        return units.read_full_day(text)
    day, month, year = map(int, text.split("."))
    return date(year, month, day)


def happened(what: str, came_from: str, to: str, *, by_family: bool) -> str:
    """An event of the job's history as its family reads it; "" for what is the bench's business."""
    if what == "move":
        if _went_back(came_from, to):
            return _BACK_AT.get(to, "")
        return _CAME_TO.get(to, "")
    if by_family and what in _BY_YOU:
        return _BY_YOU[what]
    return _DONE.get(what, "")


def _before_the_sitting(facts: Facts, today: date) -> Words:
    again = _went_back(facts.came_from, "booked")
    sorry = "A print did not last, so we would like to take it again. " if again else ""
    sitting = facts.sitting
    if sitting is None:
        return Words(
            "Another sitting is needed" if again else "No day for the sitting yet",
            f"{sorry}Call or write to us to agree a day that suits your child.",
        )
    on = sitting.starts_at.date()
    time = f"{sitting.starts_at:%H:%M}"
    if on < today:
        return Words(
            f"The sitting was on {units.day(on, today)}",
            f"{sorry}The studio is writing it up; the next step shows here soon.",
        )
    return Words(
        f"The sitting is {_on(on, today)} at {time}",
        f"{sorry}It is {_PLACES[sitting.place]} and takes about {sitting.minutes} minutes; one of "
        "you holds the child. If your child is not well that day, tell us and we find another.",
    )


def _drying(days_to_go: int | None) -> Words:
    if days_to_go is None:
        return Words("Dry: framing comes next", "Every cast is dry right through.")
    if days_to_go > _MOST_DAYS_TO_SAY:
        return Words("Drying: some weeks more", "Plaster dries slowly and cannot be hurried.")
    days = "1 more day" if days_to_go == 1 else f"{days_to_go} more days"
    return Words(
        f"Drying: about {days}",
        "Plaster dries slowly and cannot be hurried. We check each cast until it is dry right "
        "through, so this is a good guess and no promise.",
    )


def _on(on: date, today: date) -> str:
    day = units.day(on, today)
    away = (on - today).days
    return {0: f"today, {day},", 1: f"tomorrow, {day},"}.get(away, f"on {day}")


def _put_off(change: Change, before: date, today: date) -> Promise:
    state = "are late" if before < today else "need longer"
    said = f"We promised {units.day(before, today)} and {state}."
    reason = f"The reason: {_sentence(change.why)}" if change.why else ""
    return Promise(
        f"Now promised for {units.day(change.to, today)}",
        _joined(said, reason, "We are sorry."),
        late=before < today,
    )


def _history(change: Change | None, today: date) -> str:
    if change is None:
        return ""
    moved = f"The day was {units.day(change.before, today)} before." if change.before else ""
    return _joined(moved, f"Why it changed: {_sentence(change.why)}" if change.why else "")


def _went_back(came_from: str | None, to: str) -> bool:
    way: tuple[str, ...] = _WAY
    return came_from in way and to in way and way.index(to) < way.index(came_from)


def _sentence(text: str) -> str:
    return text if text.endswith((".", "!", "?", "…")) else f"{text}."


def _joined(*sentences: str) -> str:
    return " ".join(sentence for sentence in sentences if sentence)


_PLAIN_WORDS: dict[Stage, tuple[str, str]] = {
    "clay_rest": (
        "In the clay",
        "The prints rest in the clay, covered. Plaster is poured into them next.",
    ),
    "casting": (
        "In plaster",
        "The plaster is poured and sets. Then the casts come out of the clay and begin to dry.",
    ),
    "framing": (
        "Being framed",
        "The casts are dry. They are set on their backing and framed in oak.",
    ),
    "ready": (
        "Ready to come home",
        "The frame is finished and checked. Call or write to agree how it comes to you.",
    ),
    "handed_over": (
        "Home since {day}",
        "We hope that it gives you joy for a long time. Should anything be wrong, tell us.",
    ),
    "called_off": (
        "Called off on {day}",
        "This order goes no further. If that is not what you expected, call or write to us.",
    ),
}

_CAME_TO: dict[str, str] = {
    "clay_rest": "The prints were taken.",
    "casting": "The plaster was poured.",
    "drying": "The casts came out of the clay and began to dry.",
    "framing": "Framing began.",
    "ready": "The frame was finished and checked.",
    "handed_over": "It went home.",
    "called_off": "The order was called off.",
}

_BACK_AT: dict[str, str] = {
    "booked": "A print did not last and is to be taken again.",
    "clay_rest": "A cast did not come out well enough and is to be poured again.",
    "framing": "The frame went back to the bench to be put right.",
}

_BY_YOU: dict[str, str] = {
    "accept_quote": "You ordered at the price shown.",
    "decline_quote": "You said no to the price.",
    "choose_look": "You chose the backing and the finish.",
    "withdraw_consent": "You withdrew a consent.",
}

_DONE: dict[str, str] = {
    "open_job": "Your order was opened.",
    "book_again": "A day for another sitting was agreed.",
    "move_sitting": "The sitting moved to another time.",
    "cancel_sitting": "The sitting was cancelled.",
    "leave_off_piece": "A piece was taken off the order.",
    "take_piece_back": "A piece was put back on the order.",
    "promise": "The promised day changed.",
    "weigh": "We checked how dry the casts are.",
    "accept_quote": "You agreed to the price.",
    "choose_look": "Backing and finish were noted.",
    "add_extra": "Something was added to the order.",
    "add_reduction": "A reduction was noted.",
    "drop_line": "A line was taken off the order.",
    "take_payment": "Your payment came in.",
    "reverse_payment": "A payment was taken back out of the books.",
    "issue_invoice": "An invoice was written.",
    "credit_invoice": "A credit note was written.",
    "withdraw_consent": "A consent was withdrawn.",
    "erase_photos": "Your photographs were erased.",
}
