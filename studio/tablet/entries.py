"""Registry of the tablet: the kinds of entries it sends after a visit offline, and the parts of its offline pack.

Each app registers in its own `tablet.py`, imported by `ready()`. The core stores the entries (`tablet_actions`) without
knowing any kind.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol, TypeVar
from uuid import UUID

from studio.accounts.models import Unit, User
from studio.roles import Role
from studio.tablet.models import TabletEntry

State = TabletEntry.State


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry made on a tablet, before it is stored. `said_at` is by the tablet's clock, `at` the same time by ours.

    `seq` is the tablet's own count (None if it used a number twice), `seen` the version of the row that it had seen.
    """

    device: UUID
    seq: int | None
    key: UUID
    kind: str
    sitting: int | None
    facts: dict[str, Any]
    seen: int | None
    said_at: datetime
    at: datetime
    tapped_by: int | None = None  # the user logged in on the tablet, unverified


@dataclass(frozen=True, slots=True)
class Answer:
    """Result of processing an entry.

    `subject` is the row it is about ("print 21"), `version` that row's version now, and `wrote` whether the entry
    made that version. `theirs`: the current facts, in a conflict.
    """

    state: TabletEntry.State = State.KEPT
    sentence: str = ""
    subject: str = ""
    version: int | None = None
    wrote: bool = False
    theirs: dict[str, Any] | None = None


class EntryHandler(Protocol):
    """Processes an entry inside a transaction. A Refused that it raises becomes the answer."""

    def __call__(
        self, unit: Unit, entry: Entry, *, by: User, at: datetime, key: UUID
    ) -> Answer: ...


Describe = Callable[[Unit, dict[str, Any]], str]

PackPart = Callable[[Unit, datetime], Any]


@dataclass(frozen=True, slots=True)
class Kind:
    """A registered kind of entry. `words` describes its facts; `choosable`: a person can resolve its conflicts."""

    handle: EntryHandler
    words: Describe | None
    owner_only: bool
    choosable: bool


T = TypeVar("T", bound=EntryHandler)

_kinds: dict[str, Kind] = {}

_parts: dict[str, tuple[PackPart, bool]] = {}


def entry_kind(
    name: str, *, words: Describe | None = None, owner_only: bool = False, choosable: bool = False
) -> Callable[[T], T]:
    """Register the function that processes entries of a kind."""

    def register(handle: T) -> T:
        _kinds[name] = Kind(handle, words, owner_only, choosable)
        return handle

    return register


def pack_part(name: str, *, owner_only: bool = False) -> Callable[[PackPart], PackPart]:
    """Register a part of the offline pack: a function of (unit, now) that returns JSON data."""

    def register(part: PackPart) -> PackPart:
        _parts[name] = (part, owner_only)
        return part

    return register


def kind_of(name: str) -> Kind | None:
    return _kinds.get(name)


def offline_pack(unit: Unit, role: Role, now: datetime) -> dict[str, Any]:
    """Collect all parts of the offline pack by name; None for parts that this role must not see."""
    return {
        name: None if owner_only and role != Role.OWNER else part(unit, now)
        for name, (part, owner_only) in sorted(_parts.items())
    }


def is_superseded(unit: Unit, entry: Entry, subject: str) -> bool:
    """Whether a later entry of the same tablet about the same row has arrived before this one. One query.

    Refused entries have no subject and do not count.
    """
    if entry.seq is None:
        return False
    return unit.tablet_entries.about(entry.device, subject).filter(seq__gt=entry.seq).exists()


def device_knows(unit: Unit, entry: Entry, subject: str, version: int) -> bool:
    """Whether the tablet knows the row's `version`: it has seen it, or wrote every version since. One query."""
    seen = entry.seen or 1
    if version <= seen:
        return True
    own = unit.tablet_entries.about(entry.device, subject).filter(
        wrote=True, version__gt=seen, version__lte=version
    )
    return own.values("version").distinct().count() == version - seen


def describe(unit: Unit, kind: str, facts: Any) -> str:
    """Describe facts for the person who resolves an entry; facts that cannot be read are listed as they came."""
    known = _kinds.get(kind)
    if not isinstance(facts, dict):
        return ""
    try:
        if known and known.words:
            return known.words(unit, facts)
    except (KeyError, TypeError, ValueError, AttributeError):
        pass  # such facts are often why the entry was refused
    return ", ".join(f"{name}: {value}" for name, value in facts.items())


def answer_json(row: TabletEntry, *, key: UUID | None = None) -> dict[str, Any]:
    """The answer to the tablet about an entry; `key` is the one that it sent, if the row has another."""
    theirs = row.theirs if row.state == State.CONFLICT else None
    return {
        "key": str(key or row.key),
        "state": row.state,
        "sentence": "" if row.state == State.SETTLED else row.sentence,
        "version": row.version,
        "theirs": theirs,
        "theirs_words": describe(row.unit, row.kind, theirs) if theirs else "",
        "resolve": str(row.key) if row.state == State.REFUSED or can_choose(row) else None,
    }


def can_choose(row: TabletEntry) -> bool:
    """Whether a person can still choose “mine”: resolve the conflict, or retry a refused entry."""
    known = _kinds.get(row.kind)
    return row.waits and known is not None and (known.choosable or row.state == State.REFUSED)


def unsettled_by_sitting(unit: Unit, sittings: Iterable[int]) -> dict[int, list[dict[str, Any]]]:
    """Entries that wait for a person's choice, by sitting. One query, and those that describe the facts."""
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
                "mine_words": describe(unit, row.kind, row.facts),
                "theirs": row.theirs,
                "theirs_words": describe(unit, row.kind, row.theirs) if row.theirs else "",
                "subject": int(row.subject.rsplit(" ", 1)[-1]) if row.subject else None,
                "version": row.version,
                "said_at": row.at.isoformat(),
                "by": row.said_by,
                "can_choose": can_choose(row),
            }
        )
    return found
