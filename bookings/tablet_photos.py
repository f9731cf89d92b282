"""A photograph that comes from a tablet, part by part or whole: kept once, by its key."""

from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from io import BytesIO
from typing import Any
from uuid import UUID

from bookings import actions, photos
from bookings.queries import keeps_photos
from bookings.tablet_parts import Parts
from studio.models import Job, Piece, TabletEntry, Unit, User
from studio.stages import Refused
from studio.tablet import Entry
from studio.tablet_actions import note_entry

KIND = "photo"
NOT_AGREED = "The family has not agreed to photographs being kept, so this one was not. Ask first."


@dataclass(frozen=True, slots=True)
class Sent:
    """What a tablet says of a photograph, once it was read."""

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
    """How far a photograph is: `state` is "" on its way, kept, refused, damaged, unreadable, conflict."""

    have: int
    state: str = ""
    why: str = ""


def earlier_of(unit: Unit, key: UUID) -> TabletEntry | None:
    """The photograph that was kept under this key."""
    return unit.tablet_entries.filter(key=key, kind=KIND).first()


def take_part(
    unit: Unit, sent: Sent, *, offset: int, content: bytes, by: User, at: datetime
) -> Progress:
    """Keep one part; with the last of them the photograph is cleaned and kept, and the parts go."""
    if done := _done(unit, sent):
        return done
    parts = Parts(unit, sent.key, digest=sent.digest, total_bytes=sent.total_bytes)
    # Nothing of a photograph lies here while the family has not said yes.
    if not keeps_photos(sent.job.family):
        parts.drop()
        return Progress(0, "refused", NOT_AGREED)
    have = parts.add(offset, content)
    if have < sent.total_bytes:
        return Progress(have)
    whole = parts.whole()
    progress = (
        Progress(0, "damaged", "It arrived damaged: it is sent once more.")
        if whole is None
        else take_whole(unit, sent, content=whole, by=by, at=at)
    )
    parts.drop()
    return progress


def take_whole(unit: Unit, sent: Sent, *, content: bytes, by: User, at: datetime) -> Progress:
    """Clean a photograph and keep it; `at`: when it arrived. The same key twice is one photograph."""
    if done := _done(unit, sent):
        return done
    if sha256(content).hexdigest() != sent.digest:
        return Progress(0, "damaged", "This photograph is damaged.")
    if not keeps_photos(sent.job.family):
        return Progress(0, "refused", NOT_AGREED)
    try:
        actions.add_photo(
            sent.job,
            clean=photos.clean(BytesIO(content)),
            kind=sent.kind,
            piece=sent.piece,
            by=by,
            at=sent.at,
            key=sent.key,
        )
    except photos.PhotoRefused as unreadable:
        return Progress(0, "unreadable", str(unreadable))
    except Refused as refused:
        return Progress(0, "refused", " ".join(refused.reasons))
    _note(unit, sent, by, at)
    return Progress(sent.total_bytes, "kept")


def _done(unit: Unit, sent: Sent) -> Progress | None:
    earlier = earlier_of(unit, sent.key)
    if earlier is None:
        return None
    if earlier.facts == sent.facts:
        return Progress(sent.total_bytes, "kept")
    return Progress(0, "conflict", "Under this key another photograph was kept: that one stands.")


def _note(unit: Unit, sent: Sent, by: User, at: datetime) -> None:
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
    note_entry(unit, entry=entry, by=by, at=at)
