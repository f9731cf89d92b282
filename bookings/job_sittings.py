"""The sittings and photographs of a job as its page shows them: facts alone, kept while no read differs."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from bookings.models import Photo, Sitting
from studio.watched import watched


@dataclass(frozen=True, slots=True)
class PrintSaid:
    """What became of one limb at a sitting."""

    piece: str
    left_off: bool
    outcome: str
    outcome_words: str
    live: bool
    tray: str
    quality: str
    note: str


@dataclass(frozen=True, slots=True)
class SittingSaid:
    pk: int
    starts_at: datetime
    ends_at: datetime
    state: str
    place_words: str
    place: str
    cancelled_why: str
    young_why: str
    prints: tuple[PrintSaid, ...]


@dataclass(frozen=True, slots=True)
class PhotoSaid:
    public_id: UUID
    shows: str
    thumb_size: tuple[int, int]


@watched
def sittings_of(job_pk: int) -> tuple[SittingSaid, ...]:
    """The newest first. Two queries."""
    sittings = Sitting.objects.filter(job=job_pk).order_by("-starts_at").with_people()
    return tuple(
        SittingSaid(
            pk=each.pk,
            starts_at=each.starts_at,
            ends_at=each.ends_at,
            state=each.state,
            place=each.get_place_display(),
            place_words=each.place_words,
            cancelled_why=each.cancelled_why,
            young_why=each.young_why,
            prints=tuple(
                PrintSaid(
                    piece=str(found.piece),
                    left_off=found.piece.left_off_at is not None,
                    outcome=found.outcome,
                    outcome_words=found.get_outcome_display(),
                    live=found.live,
                    tray=found.tray,
                    quality=found.quality,
                    note=found.note,
                )
                for found in each.impressions.all()
            ),
        )
        for each in sittings
    )


@watched
def photos_of(job_pk: int) -> tuple[PhotoSaid, ...]:
    """One query."""
    return tuple(
        PhotoSaid(each.public_id, each.shows, each.thumb_size)
        for each in Photo.objects.filter(job=job_pk).with_job()
    )
