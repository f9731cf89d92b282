"""Parsing and validation of what a tablet sends. No database."""

import json
import math
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.utils.dateparse import parse_datetime

from studio.stages import ActionRefused
from studio.tablet.entries import Entry

LONGEST_FACTS = 8_000

MAX_INTEGER = 2**31 - 1  # what an integer column of every database holds


class Unreadable(ActionRefused):
    """What was sent is not an entry and cannot be stored; the tablet goes on showing it."""


def parse_json(body: bytes) -> dict[str, Any]:
    """Parse a JSON object without characters that a database refuses. Raises Unreadable."""
    try:
        found = _sanitise(json.loads(body))
    except (ValueError, RecursionError):
        raise Unreadable("This was not readable.") from None
    if not isinstance(found, dict):
        raise Unreadable("This was not readable.")
    return found


def parse_time(value: Any) -> datetime:
    """Parse an ISO 8601 time with its zone. Raises Unreadable."""
    try:
        found = parse_datetime(value)
    except (TypeError, ValueError):
        found = None
    if found is None or found.tzinfo is None:
        raise Unreadable("This has no time that can be read.")
    return found


def parse_uuid(value: Any, what: str) -> UUID:
    """Parse a UUID; `what` names it in the error. Raises Unreadable."""
    try:
        return UUID(str(value))
    except ValueError:
        raise Unreadable(f"This has no {what}.") from None


def to_server_time(said_at: datetime, skew: timedelta, now: datetime) -> datetime:
    """Convert a time of the tablet's clock to ours, never in the future. `skew`: tablet's clock minus ours."""
    try:
        return min(said_at - skew, now)
    except OverflowError:
        return now


def parse_entry(raw: Any, *, device: UUID, skew: timedelta, now: datetime) -> Entry:
    """Parse one entry of the queue. Raises Unreadable if it cannot be stored."""
    if not isinstance(raw, dict):
        raise Unreadable("This is no entry.")
    facts = raw.get("facts")
    if not isinstance(facts, dict) or len(json.dumps(facts)) > LONGEST_FACTS:
        raise Unreadable("This entry has no facts, or too many.")
    said_at = parse_time(raw.get("said_at"))
    return Entry(
        device=device,
        seq=_parse_integer(raw.get("seq"), "number", least=1),
        key=parse_uuid(raw.get("key"), "key"),
        kind=_text(raw.get("kind"))[:20],
        sitting=_parse_integer(raw.get("sitting"), "sitting", least=0, none=True),
        facts=facts,
        seen=_parse_integer(raw.get("seen"), "version", least=0, none=True),
        said_at=said_at,
        at=to_server_time(said_at, skew, now),
        tapped_by=_parse_integer(raw.get("tapped_by"), "person", least=1, none=True),
    )


def unreadable_answer(raw: Any, why: Unreadable) -> dict[str, Any]:
    """The answer to something that cannot be stored: the tablet goes on showing it."""
    return {
        "key": raw.get("key") if isinstance(raw, dict) else None,
        "state": "refused",
        "sentence": " ".join(why.reasons),
        "version": None,
        "theirs": None,
        "theirs_words": "",
        "resolve": None,
    }


class Facts:
    """Typed access to the facts of an entry; raises ActionRefused for a value that is missing or invalid."""

    def __init__(self, facts: Mapping[str, Any]) -> None:
        self._facts = facts

    def text(self, name: str, longest: int, *, needed: bool = False) -> str:
        value = self._facts.get(name)
        if value is None:
            value = ""
        if not isinstance(value, str) or len(value) > longest or (needed and not value.strip()):
            raise self._refusal(name)
        return value.strip()

    def whole(self, name: str, least: int, most: int) -> int:
        value = self.whole_or_none(name, least, most)
        if value is None:
            raise self._refusal(name)
        return value

    def whole_or_none(self, name: str, least: int, most: int) -> int | None:
        value = self._facts.get(name)
        if value is None:
            return None
        if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= most:
            raise self._refusal(name)
        return value

    def yes_or_no(self, name: str) -> bool:
        value = self._facts.get(name)
        if not isinstance(value, bool):
            raise self._refusal(name)
        return value

    def one_of(self, name: str, choices: Iterable[str]) -> str:
        value = self._facts.get(name)
        if not isinstance(value, str) or value not in choices:
            raise self._refusal(name)
        return value

    def key(self, name: str) -> UUID:
        try:
            return UUID(str(self._facts.get(name)))
        except ValueError:
            raise self._refusal(name) from None

    def answers(self, name: str, known: Iterable[str]) -> dict[str, bool | None]:
        """True, False or None (not answered) for each of the known questions."""
        given = self._facts.get(name)
        if given is None:
            given = {}
        if not isinstance(given, dict):
            raise self._refusal(name)
        found = {each: given.get(each) for each in known}
        if any(value not in (True, False, None) for value in found.values()):
            raise self._refusal(name)
        return {each: None if value is None else bool(value) for each, value in found.items()}

    @staticmethod
    def _refusal(name: str) -> ActionRefused:
        return ActionRefused(f"The tablet sent a “{name.replace('_', ' ')}” that makes no sense.")


def _parse_integer(value: Any, what: str, *, least: int, none: bool = False) -> int | None:
    if value is None and none:
        return None
    if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= MAX_INTEGER:
        raise Unreadable(f"This entry has no {what} that can be read.")
    return value


def _text(value: Any) -> str:
    return value if isinstance(value, str) else ""


def _sanitise(value: Any) -> Any:
    """Remove NUL and lone surrogates, which a database refuses; raise Unreadable for infinite numbers."""
    if isinstance(value, str):
        return value.replace("\0", "").encode("utf-8", "replace").decode()
    if isinstance(value, float) and not math.isfinite(value):
        raise Unreadable("This was not readable.")
    if isinstance(value, list):
        return [_sanitise(each) for each in value]
    if isinstance(value, dict):
        return {_sanitise(name): _sanitise(each) for name, each in value.items()}
    return value
