"""What lies on the bench: the clay, the moulds, the rack and the frames, in one load."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Literal

from django.db.models import Prefetch, prefetch_related_objects
from django.utils import timezone

from bookings.models import Impression
from production import drying, plaster, week
from production.queries.mixes import live_print, mix_of, predicted_mix
from production.queries.pieces import Reading, cast_days_to_go, judged, local_day, readings, weighed
from production.week import DAY, Habits, pour_by
from studio import units
from studio.models import Job, Piece, Unit
from studio.stages import Stage

if TYPE_CHECKING:
    from production.models import Cast, Frame
    from studio.queries import JobQuerySet

HOURS_SAID = 72
State = Literal["waits", "sitting", "clay", "mould", "damp", "dry", "spoiled"]


@dataclass(frozen=True, slots=True)
class PieceNow:
    """One piece as it stands: its print, its whole cast, and what the scale says of it."""

    job: Job
    piece: Piece
    state: State
    print: "Impression | None"
    cast: "Cast | None"
    spoiled: tuple["Cast", ...]
    mix: plaster.Mix
    weighings: tuple[drying.Weighed, ...]
    judged: drying.Dryness | None
    at: datetime
    days_to_go: int
    pour_by: datetime | None = None
    out_from: datetime | None = None

    @property
    def today(self) -> date:
        return local_day(self.at)

    @property
    def last(self) -> drying.Weighed | None:
        return self.weighings[-1] if self.weighings else None

    @property
    def readings(self) -> list[Reading]:
        return readings(self.cast) if self.cast else []

    @property
    def probably_dry_on(self) -> date:
        return self.today + self.days_to_go * DAY

    @property
    def may_be_weighed(self) -> bool:
        on_the_bench = not self.job.is_closed and not _in_a_frame(self.job)
        return self.state in ("damp", "dry") and on_the_bench

    @property
    def may_be_given_up(self) -> bool:
        given = self.state in ("mould", "damp", "dry") and not self.job.is_closed
        return given and self.job.stage != Stage.READY

    @property
    def days_drying(self) -> int:
        """Whole days on the rack; 0 on the day it came out of the mould."""
        out = self.cast.demoulded_at if self.cast else None
        return (self.today - local_day(out)).days if out else 0

    @property
    def facts(self) -> week.PieceFacts:
        """What the planning of the week asks of a piece."""
        cast, found, last = self.cast, self.print, self.last
        taken_at = (found.taken_at or found.sitting.starts_at) if found else None
        out = cast.demoulded_at if cast else None
        return week.PieceFacts(
            child=self.piece.child.first_name,
            limb=self.piece.get_limb_display(),
            taken_at=timezone.localtime(taken_at) if taken_at else None,
            is_taken=self.state == "clay",
            poured_at=timezone.localtime(cast.pour.poured_at) if cast else None,
            demoulded_on=local_day(out) if out else None,
            weighed_on=last.at.date() if last else None,
            last_g=last.mass_g if last else None,
            dry_on=self.dry_on,
            is_dry=self.state == "dry",
            rack_place=cast.rack_place if cast else None,
            plaster_g=self.mix.plaster_g,
            water_g=self.mix.water_g,
        )

    @property
    def dry_on(self) -> date | None:
        """The day it was found dry, or probably will be; None before it is out of the mould."""
        if self.state == "damp":
            return self.probably_dry_on
        return local_day(self.cast.dry_at) if self.cast and self.cast.dry_at else None

    @property
    def is_to_weigh(self) -> bool:
        """Whether the week's plan has it weighed today."""
        return self.today in week.weighing_days(self.facts, habits(self.job.unit), self.today)

    @property
    def clay_words(self) -> str:
        """How long its print has been in the clay: "3 h", "2 days"."""
        taken_at = self.print.taken_at if self.print else None
        hours = (self.at - taken_at) // timedelta(hours=1) if taken_at else 0
        return f"{hours} h" if hours < HOURS_SAID else f"{hours // 24} days"

    @property
    def pour_by_words(self) -> str:
        return _said(self.pour_by)

    @property
    def out_from_words(self) -> str:
        return _said(self.out_from)

    @property
    def days_words(self) -> str:
        return f"about {self.days_to_go} more day{'' if self.days_to_go == 1 else 's'}"


@dataclass(frozen=True, slots=True)
class Step:
    """One tick of a frame."""

    name: str
    words: str
    at: datetime | None


@dataclass(frozen=True, slots=True)
class FrameNow:
    """A job in its frame, its steps, and whether a photograph of it is still wanted."""

    job: Job
    frame: "Frame"
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


@dataclass(frozen=True, slots=True)
class Place:
    """A place of the rack, numbered from 1, and what lies there."""

    number: int
    now: PieceNow | None


@dataclass(frozen=True, slots=True)
class Bench:
    """`jobs` are all in hand, with their pieces; `beside` are casts that the rack had no place for."""

    jobs: dict[Job, list[PieceNow]]
    clay: list[PieceNow]
    mould: list[PieceNow]
    places: list[Place]
    beside: list[PieceNow]
    to_frame: list[Job]
    framing: list[FrameNow]
    mix: plaster.Mix

    @property
    def taken(self) -> int:
        return sum(place.now is not None for place in self.places)

    @property
    def rack_words(self) -> str:
        beside = f", {len(self.beside)} beside it" if self.beside else ""
        return f"{self.taken} of {len(self.places)} places taken{beside}"

    @property
    def damp(self) -> list[PieceNow]:
        """Damp pieces in the order of the rack, those without a place last."""
        drying_now = [*(place.now for place in self.places), *self.beside]
        return [now for now in drying_now if now and now.state == "damp"]


def in_hand(unit: Unit, now: datetime) -> dict[Job, list[PieceNow]]:
    """The unit's open jobs, the soonest promised first, with their pieces: five queries."""
    return as_they_stand(unit.jobs.in_hand().soonest_first(), now)


def as_they_stand(jobs: "JobQuerySet", now: datetime) -> dict[Job, list[PieceNow]]:
    """These jobs, `load`ed, with their pieces: five queries for any number."""
    found = list(jobs.select_related("family", "frame"))
    load(found)
    return {job: pieces_now(job, now) for job in found}


def load(jobs: Sequence[Job]) -> None:
    """What the bench asks of these jobs: four queries for any number, none for what is there."""
    from production.models import Cast  # noqa: PLC0415 - models import this module

    prefetch_related_objects(
        jobs,
        Prefetch("pieces", Piece.objects.select_related("child")),
        Prefetch("pieces__impressions", Impression.objects.select_related("sitting")),
        Prefetch("pieces__casts", Cast.objects.select_related("pour")),
        "pieces__casts__weighings",
    )


def pieces_now(job: Job, now: datetime) -> list[PieceNow]:
    """The job's pieces as they stand; no query for a job that was `load`ed."""
    today = local_day(now)
    return [
        _piece_now(job, piece, now, today) for piece in job.pieces.all() if not piece.left_off_at
    ]


def cast_now(cast: "Cast", now: datetime) -> PieceNow:
    """One cast as it stands, also one that was given up."""
    return _piece_now(cast.piece.job, cast.piece, now, local_day(now), cast)


def frame_now(job: Job) -> FrameNow:
    """A job at framing; no query where frame, photographs and consents were loaded."""
    return FrameNow(job, job.frame, steps_of(job.frame), wants_photo(job))


def steps_of(frame: "Frame") -> tuple[Step, ...]:
    from production.actions import FRAME_STEPS  # noqa: PLC0415 - actions import this module

    words = {"closed": "glazed" if frame.glazed else "left open"}
    return tuple(Step(s, words.get(s, s), getattr(frame, f"{s}_at")) for s in FRAME_STEPS)


def wants_photo(job: Job) -> bool:
    """Whether the family lets us keep photographs and the finished frame has none yet."""
    keeps = any(
        each.purpose == "keep" and each.withdrawn_at is None for each in job.family.consents.all()
    )
    return keeps and not any(photo.kind == "finished" for photo in job.photos.all())


def bench(unit: Unit, now: datetime) -> Bench:
    """The whole bench in a constant number of queries."""
    jobs = in_hand(unit, now)
    framing = [job for job in jobs if job.stage == Stage.FRAMING]
    prefetch_related_objects(framing, "photos", "family__consents")
    pieces = [each for standing in jobs.values() for each in standing]
    clay = _in_lots([p for p in pieces if p.state == "clay"])
    out = [p for p in pieces if p.state in ("damp", "dry") and not _in_a_frame(p.job)]
    return Bench(
        jobs=jobs,
        clay=clay,
        mould=sorted((p for p in pieces if p.state == "mould"), key=_out_first),
        places=_places(unit, out),
        beside=[p for p in out if p.cast and p.cast.rack_place is None],
        to_frame=[job for job, standing in jobs.items() if _can_be_framed(job, standing)],
        framing=[frame_now(job) for job in framing],
        mix=predicted_mix((p.piece for p in clay), unit.consistency, local_day(now)),
    )


def habits(unit: Unit) -> Habits:
    return Habits(unit.clay_rest_hours, unit.demould_hours, unit.drying_days)


def _piece_now(
    job: Job, piece: Piece, now: datetime, today: date, cast: "Cast | None" = None
) -> PieceNow:
    casts = list(piece.casts.all())
    whole = cast or next((each for each in casts if each.spoiled_at is None), None)
    found = live_print(piece)
    state = _state(found, whole)
    demoulded = state in ("damp", "dry")
    taken_at = found.taken_at if found else None
    weighings = weighed(whole) if whole else []
    return PieceNow(
        job=job,
        piece=piece,
        state=state,
        print=found,
        cast=whole,
        spoiled=tuple(each for each in casts if each.spoiled_at),
        mix=mix_of(piece, job.unit.consistency, today),
        weighings=tuple(weighings),
        judged=judged(whole, weighings) if whole and demoulded else None,
        at=now,
        days_to_go=cast_days_to_go(whole, weighings, today, job.unit.drying_days)
        if whole and demoulded
        else 0,
        pour_by=timezone.localtime(pour_by(taken_at, habits(job.unit))) if taken_at else None,
        out_from=_out_from(whole, job.unit),
    )


def _state(found: "Impression | None", whole: "Cast | None") -> State:
    if whole and whole.spoiled_at:
        return "spoiled"
    if whole:
        if whole.demoulded_at is None:
            return "mould"
        return "dry" if whole.dry_at else "damp"
    if found is None:
        return "waits"
    in_the_clay = found.outcome == "taken" and found.sitting.state == "done"
    return "clay" if in_the_clay else "sitting"


def _out_from(whole: "Cast | None", unit: Unit) -> datetime | None:
    if whole is None:
        return None
    return timezone.localtime(whole.pour.poured_at + timedelta(hours=unit.demould_hours))


def _in_lots(clay: list[PieceNow]) -> list[PieceNow]:
    """A job's prints together, the job whose clay dries first before the others."""
    first: dict[int, datetime] = {}
    for now in clay:
        if now.pour_by:
            first[now.job.pk] = min(first.get(now.job.pk, now.pour_by), now.pour_by)
    return sorted(clay, key=lambda now: (first[now.job.pk], now.job.pk, now.piece.pk))


def _out_first(now: PieceNow) -> tuple[datetime, int]:
    return now.out_from or now.at, now.piece.pk


def _in_a_frame(job: Job) -> bool:
    return job.stage in (Stage.FRAMING, Stage.READY)


def _places(unit: Unit, out: Iterable[PieceNow]) -> list[Place]:
    lying = {p.cast.rack_place: p for p in out if p.cast and p.cast.rack_place}
    # A rack that was made smaller still shows what lies beyond its end.
    last = max([unit.rack_places, *lying])
    return [Place(number, lying.get(number)) for number in range(1, last + 1)]


def _can_be_framed(job: Job, pieces: Iterable[PieceNow]) -> bool:
    return job.stage == Stage.DRYING and all(p.state == "dry" for p in pieces)


def _said(at: datetime | None) -> str:
    return f"{units.day(at.date())}, {at:%H:%M}" if at else ""
