"""Storing photographs sent by a tablet, in parts or whole: once per key."""

from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from io import BytesIO
from typing import Any
from uuid import UUID

from bookings.consent.permissions import may_keep_photos
from bookings.photos import actions, cleaning
from bookings.tablet.photo_parts import Parts
from studio.accounts.models import Unit, User
from studio.jobs.models import Job, Piece
from studio.stages import Refused
from studio.tablet.actions import record_other_entry
from studio.tablet.entries import Entry
from studio.tablet.models import TabletEntry

KIND = "photo"

NOT_AGREED = "The family has not agreed to photographs being kept, so this one was not. Ask first."


@dataclass(frozen=True, slots=True)
class PhotoUpload:
    """A tablet's validated description of a photograph."""

    device: UUID
    key: UUID
    job: Job
    piece: Piece | None
    kind: str
    digest: str
    total_bytes: int
    said_at: datetime
    at: datetime
    tapped_by: int | None = None

    @property
    def facts(self) -> dict[str, Any]:
        return {
            "job": self.job.reference,
            "piece": self.piece.pk if self.piece else None,
            "kind": self.kind,
            "sha256": self.digest,
            "total_bytes": self.total_bytes,
        }


@dataclass(frozen=True, slots=True)
class Progress:
    """Progress of an upload: bytes received, and "" or kept, refused, damaged, unreadable, conflict as `state`."""

    have: int
    state: str = ""
    why: str = ""


def stored_photo_entry(unit: Unit, key: UUID) -> TabletEntry | None:
    """The entry of the photograph stored under this key, or None. One query."""
    return unit.tablet_entries.filter(key=key, kind=KIND).first()


def receive_part(
    unit: Unit, sent: PhotoUpload, *, offset: int, content: bytes, by: User, at: datetime
) -> Progress:
    """Store one part; after the last one, clean and store the photograph and delete the parts."""
    if done := _earlier_result(unit, sent):
        return done
    parts = Parts(unit, sent.key, digest=sent.digest, total_bytes=sent.total_bytes)
    # Without the family's consent not even parts are stored.
    if not may_keep_photos(sent.job.family):
        parts.delete()
        return Progress(0, "refused", NOT_AGREED)
    have = parts.add(offset, content)
    if have < sent.total_bytes:
        return Progress(have)
    whole = parts.assemble()
    progress = (
        Progress(0, "damaged", "It arrived damaged: it is sent once more.")
        if whole is None
        else receive_photo(unit, sent, content=whole, by=by, at=at)
    )
    parts.delete()
    return progress


def receive_photo(
    unit: Unit, sent: PhotoUpload, *, content: bytes, by: User, at: datetime
) -> Progress:
    """Clean and store a photograph that arrived at `at`. The same key twice is one photograph."""
    if done := _earlier_result(unit, sent):
        return done
    if sha256(content).hexdigest() != sent.digest:
        return Progress(0, "damaged", "This photograph is damaged.")
    if not may_keep_photos(sent.job.family):
        return Progress(0, "refused", NOT_AGREED)
    try:
        actions.add_photo(
            sent.job,
            clean=cleaning.clean(BytesIO(content)),
            kind=sent.kind,
            piece=sent.piece,
            by=by,
            at=sent.at,
            key=sent.key,
        )
    except cleaning.PhotoRefused as unreadable:
        return Progress(0, "unreadable", str(unreadable))
    except Refused as refused:
        return Progress(0, "refused", " ".join(refused.reasons))
    _record_entry(unit, sent, by, at)
    return Progress(sent.total_bytes, "kept")


def _earlier_result(unit: Unit, sent: PhotoUpload) -> Progress | None:
    earlier = stored_photo_entry(unit, sent.key)
    if earlier is None:
        return None
    if earlier.facts == sent.facts:
        return Progress(sent.total_bytes, "kept")
    return Progress(
        0, "conflict", "Another photograph was saved under this key before: that one is kept."
    )


def _record_entry(unit: Unit, sent: PhotoUpload, by: User, at: datetime) -> None:
    entry = Entry(
        device=sent.device,
        seq=None,
        key=sent.key,
        kind=KIND,
        sitting=None,
        facts=sent.facts,
        seen=None,
        said_at=sent.said_at,
        at=sent.at,
        tapped_by=sent.tapped_by,
    )
    record_other_entry(unit, entry=entry, by=by, at=at)
