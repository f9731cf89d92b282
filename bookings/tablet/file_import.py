"""Import of a tablet's queue from a file, as if the tablet had sent it."""

import base64
import binascii
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from bookings.tablet.forms import PhotoUploadForm
from bookings.tablet.photos import Progress, receive_photo
from studio.accounts.models import Unit, User
from studio.tablet.actions import keep_entry
from studio.tablet.entries import describe
from studio.tablet.parsing import Unreadable, parse_entry, parse_uuid, unreadable_answer

_PHOTO_FIELDS = ("job", "piece", "kind", "said_at", "sha256", "tapped_by")

_MAX_SKEW = timedelta(days=365 * 40)


@dataclass(frozen=True, slots=True)
class ImportedLine:
    """Result of one item of the file. `sitting`: the sitting whose page shows it, if any."""

    what: str
    state: str
    sentence: str
    sitting: int | None = None

    @property
    def is_kept(self) -> bool:
        return self.state in ("kept", "settled")


def import_queue(
    unit: Unit, queue: dict[str, Any], *, by: User, now: datetime
) -> list[ImportedLine]:
    """Store all items of a queue, entries first, so that a consent comes before its photographs.

    Raises Unreadable for a file of another unit or without the id of its tablet.
    """
    if queue.get("unit") not in (None, unit.pk):
        raise Unreadable("This file was made for another studio: take it in there.")
    device, skew = parse_uuid(queue.get("device"), "device"), _skew(queue.get("skew_ms"))
    return [
        *(_entry(unit, raw, device, skew, by, now) for raw in _items(queue, "entries")),
        *(_photo(unit, raw, device, skew, by, now) for raw in _items(queue, "photos")),
    ]


def _items(queue: dict[str, Any], name: str) -> Iterator[Any]:
    found = queue.get(name)
    yield from found if isinstance(found, list) else ()


def _entry(
    unit: Unit, raw: Any, device: UUID, skew: timedelta, by: User, now: datetime
) -> ImportedLine:
    try:
        entry = parse_entry(raw, device=device, skew=skew, now=now)
    except Unreadable as unreadable:
        return ImportedLine("An entry", "refused", unreadable_answer(raw, unreadable)["sentence"])
    row = keep_entry(unit, entry=entry, by=by, at=now)
    ours = unit.sittings.filter(pk=entry.sitting or 0).exists()
    what = f"{entry.kind}: {describe(unit, entry.kind, entry.facts)}".rstrip(": ")
    return ImportedLine(what.capitalize(), row.state, row.sentence, entry.sitting if ours else None)


def _photo(
    unit: Unit, raw: Any, device: UUID, skew: timedelta, by: User, now: datetime
) -> ImportedLine:
    try:
        key = parse_uuid(raw.get("key"), "key")
        content = base64.b64decode(raw.get("data", ""), validate=True)
    except (Unreadable, AttributeError, TypeError, ValueError, binascii.Error):
        return ImportedLine("A photograph", "refused", "It could not be read.")
    said = {name: raw.get(name) for name in _PHOTO_FIELDS}
    form = PhotoUploadForm(
        {**said, "device": device, "total_bytes": len(content)}, unit=unit, key=key
    )
    if not form.is_valid() or form.missing or form.is_too_large:
        return ImportedLine(
            "A photograph", "refused", "It belongs to no job here, or is too large."
        )
    done: Progress = receive_photo(
        unit, form.to_upload(skew=skew, now=now), content=content, by=by, at=now
    )
    return ImportedLine(f"A photograph, {form.cleaned_data['job']}", done.state, done.why)


def _skew(value: Any) -> timedelta:
    """Parse the tablet's clock minus ours, in milliseconds; zero if it is invalid."""
    if not isinstance(value, int) or isinstance(value, bool):
        return timedelta()
    try:
        skew = timedelta(milliseconds=value)
    except OverflowError:
        return timedelta()
    return skew if abs(skew) < _MAX_SKEW else timedelta()
