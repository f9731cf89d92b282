"""Reads what a tablet sends: nothing of it is believed before it was looked at. No database."""

import json
import math
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.utils.dateparse import parse_datetime

from studio.actions import ActionRefused
from studio.tablet import Entry

LONGEST_FACTS = 8_000
MOST = 2**31 - 1  # what an integer column of every database holds


class Unreadable(ActionRefused):
    """Not even an entry: it cannot be kept, and the tablet goes on showing it."""


def read_json(body: bytes) -> dict[str, Any]:
    """A JSON object, with no character in it that a database refuses. Raises Unreadable."""
    try:
        found = _plain(json.loads(body))
    except (ValueError, RecursionError):
        raise Unreadable("This was not readable.") from None
    if not isinstance(found, dict):
        raise Unreadable("This was not readable.")
    return found


def read_moment(value: Any) -> datetime:
    """An ISO time with its zone. Raises Unreadable."""
    try:
        found = parse_datetime(value)
    except (TypeError, ValueError):
        found = None
    if found is None or found.tzinfo is None:
        raise Unreadable("This has no time that can be read.")
    return found


def read_uuid(value: Any, what: str) -> UUID:
    """Raises Unreadable."""
    try:
        return UUID(str(value))
    except ValueError:
        raise Unreadable(f"This has no {what}.") from None


def true_moment(said_at: datetime, skew: timedelta, now: datetime) -> datetime:
    """A moment of the tablet's clock by ours, never in the future. `skew`: tablet minus ours."""
    try:
        return min(said_at - skew, now)
    except OverflowError:
        return now


def read_entry(raw: Any, *, device: UUID, skew: timedelta, now: datetime) -> Entry:
    """One entry of a queue. Raises Unreadable where nothing can be kept of it."""
    if not isinstance(raw, dict):
        raise Unreadable("This is no entry.")
    facts = raw.get("facts")
    if not isinstance(facts, dict) or len(json.dumps(facts)) > LONGEST_FACTS:
        raise Unreadable("This entry has no facts, or too many.")
    said_at = read_moment(raw.get("said_at"))
    return Entry(
        device=device,
        seq=_number(raw.get("seq"), "number", least=1),
        key=read_uuid(raw.get("key"), "key"),
        kind=_text(raw.get("kind"))[:20],
        sitting=_number(raw.get("sitting"), "sitting", least=0, none=True),
        facts=facts,
        seen=_number(raw.get("seen"), "version", least=0, none=True),
        said_at=said_at,
        at=true_moment(said_at, skew, now),
        tapped_by=_number(raw.get("tapped_by"), "person", least=1, none=True),
    )


def unread(raw: Any, why: Unreadable) -> dict[str, Any]:
    """The answer to something of which nothing is kept: the tablet goes on showing it."""
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
    """The facts of an entry, read one by one; what makes no sense is an ActionRefused."""

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
        """A yes, a no or nothing to each of the known questions."""
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


def _number(value: Any, what: str, *, least: int, none: bool = False) -> int | None:
    if value is None and none:
        return None
    if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= MOST:
        raise Unreadable(f"This entry has no {what} that can be read.")
    return value


def _text(value: Any) -> str:
    return value if isinstance(value, str) else ""


def _plain(value: Any) -> Any:
    """Without NUL and halves of characters, which a database refuses; no endless number."""
    if isinstance(value, str):
        return value.replace("\0", "").encode("utf-8", "replace").decode()
    if isinstance(value, float) and not math.isfinite(value):
        raise Unreadable("This was not readable.")
    if isinstance(value, list):
        return [_plain(each) for each in value]
    if isinstance(value, dict):
        return {_plain(name): _plain(each) for name, each in value.items()}
    return value
