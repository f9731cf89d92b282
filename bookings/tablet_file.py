"""A tablet's queue as a file, brought to the desk: taken in as if the tablet had sent it."""

import base64
import binascii
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from bookings.tablet_forms import SentForm
from bookings.tablet_photos import Progress, take_whole
from studio.models import Unit, User
from studio.tablet import say
from studio.tablet_actions import keep_entry
from studio.tablet_reading import Unreadable, read_entry, read_uuid, unread

_SAID_OF_PHOTO = ("job", "piece", "kind", "said_at", "sha256", "tapped_by")
_WRONG_BY_AT_MOST = timedelta(days=365 * 40)


@dataclass(frozen=True, slots=True)
class Line:
    """What became of one thing in the file. `sitting`: whose page shows it, where there is one."""

    what: str
    state: str
    sentence: str
    sitting: int | None = None

    @property
    def is_kept(self) -> bool:
        return self.state in ("kept", "settled")


def take_in(unit: Unit, queue: dict[str, Any], *, by: User, now: datetime) -> list[Line]:
    """Take in everything of a queue, entries first: a consent comes before its photographs.

    Raises Unreadable for a file of another unit, and for one that does not say of which tablet it is.
    """
    if queue.get("unit") not in (None, unit.pk):
        raise Unreadable("This file was made for another studio: take it in there.")
    device, skew = read_uuid(queue.get("device"), "device"), _skew(queue.get("skew_ms"))
    return [
        *(_entry(unit, raw, device, skew, by, now) for raw in _listed(queue, "entries")),
        *(_photo(unit, raw, device, skew, by, now) for raw in _listed(queue, "photos")),
    ]


def _listed(queue: dict[str, Any], name: str) -> Iterator[Any]:
    found = queue.get(name)
    yield from found if isinstance(found, list) else ()


def _entry(unit: Unit, raw: Any, device: UUID, skew: timedelta, by: User, now: datetime) -> Line:
    try:
        entry = read_entry(raw, device=device, skew=skew, now=now)
    except Unreadable as unreadable:
        return Line("An entry", "refused", unread(raw, unreadable)["sentence"])
    row = keep_entry(unit, entry=entry, by=by, at=now)
    ours = unit.sittings.filter(pk=entry.sitting or 0).exists()
    what = f"{entry.kind}: {say(unit, entry.kind, entry.facts)}".rstrip(": ")
    return Line(what.capitalize(), row.state, row.sentence, entry.sitting if ours else None)


def _photo(unit: Unit, raw: Any, device: UUID, skew: timedelta, by: User, now: datetime) -> Line:
    try:
        key = read_uuid(raw.get("key"), "key")
        content = base64.b64decode(raw.get("data", ""), validate=True)
    except (Unreadable, AttributeError, TypeError, ValueError, binascii.Error):
        return Line("A photograph", "refused", "It could not be read.")
    said = {name: raw.get(name) for name in _SAID_OF_PHOTO}
    form = SentForm({**said, "device": device, "total_bytes": len(content)}, unit=unit, key=key)
    if not form.is_valid() or form.missing or form.is_too_large:
        return Line("A photograph", "refused", "It belongs to no job here, or is too large.")
    done: Progress = take_whole(unit, form.sent(skew=skew, now=now), content=content, by=by, at=now)
    return Line(f"A photograph, {form.cleaned_data['job']}", done.state, done.why)


def _skew(value: Any) -> timedelta:
    """The tablet's clock minus ours, as it knew it; none where that makes no sense."""
    if not isinstance(value, int) or isinstance(value, bool):
        return timedelta()
    try:
        skew = timedelta(milliseconds=value)
    except OverflowError:
        return timedelta()
    return skew if abs(skew) < _WRONG_BY_AT_MOST else timedelta()
