"""What a tablet says after a visit without signal, and what it takes along.

Each app registers in its own `tablet.py`, imported by `ready()`: the kinds of entries it takes in,
and its part of the pack. The core keeps the entries (`tablet_actions`) and knows none of them.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol, TypeVar
from uuid import UUID

from studio.models import Role, TabletEntry, Unit, User

State = TabletEntry.State


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing said on a tablet. `said_at` is the tablet's clock, `at` the same moment by ours."""

    device: UUID
    seq: int | None
    key: UUID
    kind: str
    sitting: int | None
    facts: dict[str, Any]
    seen: int | None
    said_at: datetime
    at: datetime
    tapped_by: int | None = None  # whom the tablet knew as logged in; nobody vouches for it


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of an entry.

    `subject` names the row it is about ("impression 21") and `version` that row's version now;
    `wrote`: whether the entry made that version. `theirs` is what stands, in a conflict.
    """

    state: TabletEntry.State = State.KEPT
    sentence: str = ""
    subject: str = ""
    version: int | None = None
    wrote: bool = False
    theirs: dict[str, Any] | None = None


class Take(Protocol):
    """Takes an entry in, inside a transaction. A Refused that it raises is the answer."""

    def __call__(
        self, unit: Unit, entry: Entry, *, by: User, at: datetime, key: UUID
    ) -> Answer: ...


Words = Callable[[Unit, dict[str, Any]], str]
Part = Callable[[Unit, datetime], Any]


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of entry. `words` tells its facts; `choosable`: a conflict about it can be chosen."""

    take: Take
    words: Words | None
    owner_only: bool
    choosable: bool


T = TypeVar("T", bound=Take)

_kinds: dict[str, Kind] = {}
_parts: dict[str, tuple[Part, bool]] = {}


def entry_kind(
    name: str, *, words: Words | None = None, owner_only: bool = False, choosable: bool = False
) -> Callable[[T], T]:
    """Register the function that takes in entries of a kind."""

    def register(take: T) -> T:
        _kinds[name] = Kind(take, words, owner_only, choosable)
        return take

    return register


def pack_part(name: str, *, owner_only: bool = False) -> Callable[[Part], Part]:
    """Register a part of what the tablet takes along: f(unit, now) -> what JSON can say."""

    def register(part: Part) -> Part:
        _parts[name] = (part, owner_only)
        return part

    return register


def kind_of(name: str) -> Kind | None:
    return _kinds.get(name)


def pack(unit: Unit, role: Role, now: datetime) -> dict[str, Any]:
    """Every app's part by its name; None where it is not this person's job."""
    return {
        name: None if owner_only and role != Role.OWNER else part(unit, now)
        for name, (part, owner_only) in sorted(_parts.items())
    }


def is_overtaken(unit: Unit, entry: Entry, subject: str) -> bool:
    """Whether the same tablet said something later about the row, which came first. One query.

    What was refused is about no row.
    """
    if entry.seq is None:
        return False
    return unit.tablet_entries.about(entry.device, subject).filter(seq__gt=entry.seq).exists()


def knows(unit: Unit, entry: Entry, subject: str, version: int) -> bool:
    """Whether the tablet knew of the row's `version`: it was told, or wrote all since. One query."""
    seen = entry.seen or 1
    if version <= seen:
        return True
    own = unit.tablet_entries.about(entry.device, subject).filter(
        wrote=True, version__gt=seen, version__lte=version
    )
    return own.values("version").distinct().count() == version - seen


def say(unit: Unit, kind: str, facts: Any) -> str:
    """Facts in words, for a person who chooses; facts that make no sense are told as they came."""
    known = _kinds.get(kind)
    if not isinstance(facts, dict):
        return ""
    try:
        if known and known.words:
            return known.words(unit, facts)
    except (KeyError, TypeError, ValueError, AttributeError):
        pass  # an entry is often refused because of just these facts
    return ", ".join(f"{name}: {value}" for name, value in facts.items())


def answer_to(row: TabletEntry, *, key: UUID | None = None) -> dict[str, Any]:
    """What the tablet is told of an entry; `key` is the one it sent, where the row has another."""
    theirs = row.theirs if row.state == State.CONFLICT else None
    return {
        "key": str(key or row.key),
        "state": row.state,
        "sentence": "" if row.state == State.SETTLED else row.sentence,
        "version": row.version,
        "theirs": theirs,
        "theirs_words": say(row.unit, row.kind, theirs) if theirs else "",
        "resolve": str(row.key) if row.state == State.REFUSED or can_choose(row) else None,
    }


def can_choose(row: TabletEntry) -> bool:
    """Whether “mine” may still take the place of “theirs”, or be tried again."""
    known = _kinds.get(row.kind)
    return row.waits and known is not None and (known.choosable or row.state == State.REFUSED)


def waiting(unit: Unit, sittings: Iterable[int]) -> dict[int, list[dict[str, Any]]]:
    """What waits for a person's choice, by sitting. One query, and those of the words."""
    found: dict[int, list[dict[str, Any]]] = {}
    rows = unit.tablet_entries.unsettled().filter(sitting__in=list(sittings))
    for row in rows.select_related("by", "tapped_by", "unit"):
        found.setdefault(row.sitting or 0, []).append(
            {
                "key": str(row.key),
                "kind": row.kind,
                "state": row.state,
                "sentence": row.sentence,
                "mine": row.facts,
                "mine_words": say(unit, row.kind, row.facts),
                "theirs": row.theirs,
                "theirs_words": say(unit, row.kind, row.theirs) if row.theirs else "",
                "subject": int(row.subject.rsplit(" ", 1)[-1]) if row.subject else None,
                "version": row.version,
                "said_at": row.at.isoformat(),
                "by": row.said_by,
                "can_choose": can_choose(row),
            }
        )
    return found
