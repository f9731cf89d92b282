"""The slips of the Bench: facts alone, frozen, that the parts of the page show."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from studio import units
from studio.models import Job

if TYPE_CHECKING:
    from collections.abc import Sequence

    from production.models import Frame
    from production.queries.bench import PieceNow

HOURS_SAID = 72


@dataclass(frozen=True, slots=True)
class InClay:
    """The prints of one job in the clay: `pieces` are (name, tray or "")."""

    reference: str
    pieces: tuple[tuple[str, str], ...]
    waits: str  # how long they have been there: "3 h", "2 days"
    pour_by: str
    is_late: bool


@dataclass(frozen=True, slots=True)
class InMould:
    """One cast that sets."""

    cast_pk: int
    piece: str
    reference: str
    out_from: datetime
    can_come_out: bool

    @property
    def out_from_words(self) -> str:
        return said(self.out_from)


@dataclass(frozen=True, slots=True)
class Lying:
    """What lies on the rack or beside it, and its next step."""

    cast_pk: int
    piece: str
    reference: str
    place: int | None  # of the rack; None beside it
    is_dry: bool
    to_weigh: bool  # today
    days_drying: int
    last_g: float | None
    days_words: str
    dry_words: str  # "about Tue 1 Dec (…)", "" where no forecast is kept
    water_left_g: float | None


@dataclass(frozen=True, slots=True)
class Place:
    """A place of the rack, numbered from 1, and what lies there."""

    number: int
    lying: Lying | None


@dataclass(frozen=True, slots=True)
class Step:
    """One tick of a frame."""

    name: str
    words: str
    at: datetime | None


@dataclass(frozen=True, slots=True)
class ToFrame:
    """A job whose casts are all dry."""

    reference: str
    names: str
    stage: str
    promised_on: date | None


@dataclass(frozen=True, slots=True)
class FrameNow:
    """A job in its frame, its steps, and whether a photograph of it is still wanted."""

    reference: str
    names: str
    stage: str
    promised_on: date | None
    glazed: bool
    steps: tuple[Step, ...]
    wants_photo: bool

    @property
    def done(self) -> tuple[str, ...]:
        return tuple(step.name for step in self.steps if step.at)

    @property
    def left(self) -> list[str]:
        """What is still to be done before it is ready, in words."""
        ticks = [step.words for step in self.steps if step.at is None]
        return [*ticks, "photographed"] if self.wants_photo else ticks


def in_clay(prints: "Sequence[PieceNow]", now: datetime) -> InClay:
    """Of one job's pieces in the clay."""
    first = prints[0]
    return InClay(
        reference=first.job.reference,
        pieces=tuple((str(each.piece), each.print.tray if each.print else "") for each in prints),
        waits=_waits(first, now),
        pour_by=said(first.pour_by),
        is_late=first.pour_by is not None and first.pour_by < now,
    )


def in_mould(piece: "PieceNow", now: datetime) -> InMould:
    out_from = piece.out_from or now
    return InMould(
        cast_pk=piece.cast.pk if piece.cast else 0,
        piece=str(piece.piece),
        reference=piece.job.reference,
        out_from=out_from,
        can_come_out=out_from <= now,
    )


def lying(piece: "PieceNow") -> Lying:
    """Of a cast that is out of its mould."""
    return Lying(
        cast_pk=piece.cast.pk if piece.cast else 0,
        piece=str(piece.piece),
        reference=piece.job.reference,
        place=piece.cast.rack_place if piece.cast else None,
        is_dry=piece.state == "dry",
        to_weigh=piece.is_to_weigh,
        days_drying=piece.days_drying,
        last_g=piece.last.mass_g if piece.last else None,
        days_words=piece.days_words,
        dry_words=piece.forecast.words(piece.today) if piece.forecast else "",
        water_left_g=piece.cast.water_left_g if piece.cast else None,
    )


def to_frame(job: Job) -> ToFrame:
    return ToFrame(job.reference, job.first_names, job.stage, job.promised_on)


def framed(job: Job, frame: "Frame", *, wants_photo: bool) -> FrameNow:
    return FrameNow(
        job.reference,
        job.first_names,
        job.stage,
        job.promised_on,
        frame.glazed,
        steps_of(frame),
        wants_photo,
    )


def steps_of(frame: "Frame") -> tuple[Step, ...]:
    from production.actions import FRAME_STEPS  # noqa: PLC0415 - actions import this module

    words = {"closed": "glazed" if frame.glazed else "left open"}
    return tuple(Step(s, words.get(s, s), getattr(frame, f"{s}_at")) for s in FRAME_STEPS)


def said(at: datetime | None) -> str:
    return f"{units.day(at.date())}, {at:%H:%M}" if at else ""


def _waits(first: "PieceNow", now: datetime) -> str:
    taken_at = first.print.taken_at if first.print else None
    hours = (now - taken_at) // timedelta(hours=1) if taken_at else 0
    return f"{hours} h" if hours < HOURS_SAID else f"{hours // 24} days"
