"""The kinds of event in a job's history: the facts that each stores, and their wording.

Each app has a module of this name, which registers the events of its actions. The database stores
facts and what a person typed (`JobEvent.why`); the wording is made on display.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any, ClassVar

from studio import units


@dataclass(frozen=True, slots=True)
class Facts:
    """Base class of what a kind of event stores beside who, when and why.

    Fields hold JSON values; dates and times are in ISO 8601, times in the unit's local time.
    """

    before_why: ClassVar[str] = ": "

    def words(self, names: Mapping[int, str]) -> str:
        """Describe the facts; `names` are the names of the job's pieces by primary key."""
        return ""


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of event: its heading in the history, and the class of its facts."""

    heading: str
    facts: type[Facts] = Facts


_kinds: dict[str, Kind] = {}


def register(**kinds: Kind) -> None:
    """Name the events of an app: `register(weigh=Kind("Weighed", Weighed))`."""
    _kinds.update(kinds)


def is_registered(what: str) -> bool:
    return what in _kinds


def heading(what: str) -> str:
    """Heading of a kind of event: "Weighed"; made of the name itself if it is not registered."""
    return _kinds[what].heading if what in _kinds else what.replace("_", " ").capitalize()


def to_store(what: str, facts: Facts | None) -> dict[str, Any]:
    """Convert the facts of an event to JSON. Raises TypeError for facts of another kind."""
    if facts is None:
        return {}
    if not isinstance(facts, _kinds[what].facts):
        raise TypeError(f"The facts of {what} are {_kinds[what].facts.__name__}.")
    return asdict(facts)


def read(what: str, stored: Mapping[str, Any]) -> Facts:
    """Convert stored JSON to the facts of its kind; an empty one to `Facts`, whose wording is empty."""
    return _kinds[what].facts(**stored) if stored else Facts()


def details(
    what: str, subject: int | None, stored: Mapping[str, Any], why: str, names: Mapping[int, str]
) -> str:
    """Describe an event with its piece, facts and reason: "Wren, left hand: 812 g, after a wet night".

    `names` are the names of the job's pieces by primary key. Empty if there is nothing to describe.
    """
    facts = read(what, stored)
    said = facts.before_why.join(filter(None, [facts.words(names), why]))
    return ": ".join(filter(None, [names.get(subject, "") if subject else "", said]))


def day_of(iso: str) -> str:
    """Format a stored date: "3 Dec 2026"."""
    return units.full_day(date.fromisoformat(iso))


def moment_of(iso: str) -> str:
    """Format a stored time: "Thu 3 Dec, 10:00"."""
    at = datetime.fromisoformat(iso)
    return f"{units.day(at.date())}, {at:%H:%M}"


@dataclass(frozen=True, slots=True)
class Promised(Facts):
    before: str  # "" where no day was promised
    day: str

    def words(self, names: Mapping[int, str]) -> str:
        return " → ".join(day_of(each) for each in (self.before, self.day) if each)


_move_reasons: dict[str, str] = {}


def register_move_reasons(words: Mapping[str, str]) -> None:
    """Register wordings for the reasons of moves, by the code that a move stores."""
    _move_reasons.update(words)


@dataclass(frozen=True, slots=True)
class Moved(Facts):
    before_why: ClassVar[str] = ". "
    reason: str  # a code of register_move_reasons

    def words(self, names: Mapping[int, str]) -> str:
        return _move_reasons.get(self.reason, "")


register(
    move=Kind("Moved", Moved),
    open_job=Kind("Opened"),
    leave_off_piece=Kind("A piece left off"),
    take_piece_back=Kind("A piece back on"),
    promise=Kind("Promise changed", Promised),
)
