"""One piece at the bench, from the clay to the drying rack, and the frame of its job."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from typing import Literal

from django.db.models import Exists, OuterRef
from django.utils import timezone

from bookings.consent.models import Consent
from bookings.photos.models import Photo
from bookings.sittings.models import ClayPrint
from production import plaster
from production.casts.forecasts import DryInterval, cast_days_to_go, stored_interval
from production.casts.mixes import Mixing, live_print, mix_of, mixing_of
from production.casts.models import Cast
from production.casts.pieces import (
    PastWeighing,
    judge_cast,
    last_weighing,
    valid_weighings,
    weighing_history,
)
from production.casts.weight_curve import WeightCurve, weight_curve
from production.drying.by_weight import Dryness, Weighed
from production.frames.models import FrameStep
from production.schedule import week
from production.schedule.facts import DAY, Habits, PieceFacts, Planned
from studio import units
from studio.accounts.models import Unit
from studio.jobs.models import Job, Piece
from studio.stages import Stage

State = Literal["waits", "sitting", "clay", "mould", "damp", "dry", "spoiled"]


@dataclass(frozen=True)
class PieceNow:
    """One piece on a day: its state, whole cast, spoiled casts and planned steps.

    `print`: the one to pour or to take, None once poured. `days_to_go`: days until it is probably dry.
    """

    job: Job
    piece: Piece
    state: State
    print: ClayPrint | None
    cast: Cast | None
    spoiled: tuple[Cast, ...]
    mixing: Mixing
    today: date
    days_to_go: int
    pour_by: datetime | None = None
    out_from: datetime | None = None
    planned: tuple[Planned, ...] = ()

    @property
    def mix(self) -> plaster.Mix:
        """Predicted plaster and water of the piece."""
        return mix_of(self.piece, self.mixing, self.today)

    @property
    def judged(self) -> Dryness | None:
        """Whether it is dry by its weighings; None unless it is out of the mould."""
        if self.cast is None or self.state not in ("damp", "dry"):
            return None
        return judge_cast(self.cast, list(self.weighings), self.mixing.scale_g)

    @cached_property
    def weighings(self) -> tuple[Weighed, ...]:
        """Its weighings, oldest first, without those struck out. One query unless loaded."""
        return tuple(valid_weighings(self.cast)) if self.cast else ()

    @cached_property
    def last(self) -> Weighed | None:
        """Its last weighing, as stored on the cast. No query."""
        return last_weighing(self.cast) if self.cast else None

    @property
    def readings(self) -> list[PastWeighing]:
        return weighing_history(self.cast) if self.cast else []

    @property
    def probably_dry_on(self) -> date:
        return self.today + self.days_to_go * DAY

    @property
    def forecast(self) -> DryInterval | None:
        """Stored forecast of the days on which it will be dry; None before it is demoulded. No query."""
        return stored_interval(self.cast) if self.cast else None

    @property
    def curve(self) -> WeightCurve | None:
        """Its weights as a drawing; None before the first weighing. No query."""
        return weight_curve(self.cast, self.weighings) if self.cast else None

    @property
    def forecast_words(self) -> str:
        """Forecast in words: "Dry about Tue 1 Dec (Mon 30 Nov to Thu 3 Dec), 38 g still to go"; empty unless damp and in time."""
        if self.state != "damp" or self.cast is None or self.forecast is None:
            return ""
        days = self.forecast.words(self.today)
        if not days:
            return ""
        left_g = self.cast.water_left_g or 0
        rest = f"{left_g:.0f} g" if left_g >= 1 else "under 1 g"
        return f"Dry {days}, {rest} still to go"

    @property
    def may_be_weighed(self) -> bool:
        on_the_bench = not self.job.is_closed and not in_a_frame(self.job)
        return self.state in ("damp", "dry") and on_the_bench

    @property
    def may_be_spoiled(self) -> bool:
        given = self.state in ("mould", "damp", "dry") and not self.job.is_closed
        return given and self.job.stage != Stage.READY

    @property
    def days_drying(self) -> int:
        """Whole days since demoulding."""
        out = self.cast.demoulded_at if self.cast else None
        return (self.today - timezone.localdate(out)).days if out else 0

    @cached_property
    def facts(self) -> PieceFacts:
        """The facts of the piece from which the week is planned. No query."""
        cast, found, last = self.cast, self.print, self.last
        mix = None if cast else self.mix  # what is poured takes no more
        taken_at = (found.taken_at or found.sitting.starts_at) if found else None
        out = cast.demoulded_at if cast else None
        return PieceFacts(
            child=self.piece.child.first_name,
            limb=self.piece.get_limb_display(),
            taken_at=timezone.localtime(taken_at) if taken_at else None,
            is_taken=self.state == "clay",
            poured_at=timezone.localtime(cast.pour.poured_at) if cast else None,
            demoulded_on=timezone.localdate(out) if out else None,
            weighed_on=last.at.date() if last else None,
            last_g=last.mass_g if last else None,
            dry_on=self.dry_on,
            is_dry=self.state == "dry",
            rack_place=cast.rack_place if cast else None,
            plaster_g=mix.plaster_g if mix else 0,
            water_g=mix.water_g if mix else 0,
            planned=self.planned,
            piece_pk=self.piece.pk,
            cast_pk=cast.pk if cast else 0,
            dry_g=cast.foreseen_dry_g if cast else None,
        )

    @property
    def dry_on(self) -> date | None:
        """The day it was found dry, or will probably be; None before it is demoulded."""
        if self.state == "damp":
            return self.probably_dry_on
        return timezone.localdate(self.cast.dry_at) if self.cast and self.cast.dry_at else None

    @property
    def is_to_weigh(self) -> bool:
        """Whether it is due to be weighed today."""
        return week.is_to_weigh(self.facts, self.today)

    @property
    def place(self) -> int | None:
        """Its drying rack place; None without one."""
        return self.cast.rack_place if self.cast else None

    @property
    def dry_words(self) -> str:
        """Forecast days in words: "about Tue 1 Dec (Mon 30 Nov to Thu 3 Dec)"; empty without a forecast."""
        return self.forecast.words(self.today) if self.forecast else ""

    @property
    def pour_by_words(self) -> str:
        return _moment_words(self.pour_by)

    @property
    def out_from_words(self) -> str:
        return _moment_words(self.out_from)

    @property
    def days_words(self) -> str:
        return f"about {self.days_to_go} more day{'' if self.days_to_go == 1 else 's'}"


@dataclass(frozen=True, slots=True)
class FrameNow:
    """A job that is being framed, its steps, and whether its finished frame must still be photographed."""

    job: Job
    needs_photo: bool

    @property
    def steps(self) -> tuple[FrameStep, ...]:
        return self.job.frame.steps

    @property
    def left(self) -> list[str]:
        """Steps still to do before the job is ready, in words."""
        ticks = [step.words for step in self.steps if step.at is None]
        return [*ticks, "photographed"] if self.needs_photo else ticks


def cast_now(cast: Cast, now: datetime) -> PieceNow:
    """Return the piece of one cast, spoiled or not. Three queries if job, child and weighings are loaded."""
    piece, job = cast.piece, cast.piece.job
    return piece_now(
        job, piece, piece.casts.all(), mixing_of(job.unit), timezone.localdate(now), cast=cast
    )


def frame_now(job: Job) -> FrameNow:
    """Return the frame of a job that is being framed. One query."""
    return frames_now([job])[0]


def frames_now(jobs: Sequence[Job]) -> list[FrameNow]:
    """Return the frames of these jobs that are being framed. At most one query."""
    wanting = jobs_needing_photo(jobs) if jobs else set()
    return [FrameNow(job, job.pk in wanting) for job in jobs]


def needs_photo(job: Job) -> bool:
    """Whether the family consents to keeping photographs and the finished frame has none yet. One query."""
    return job.pk in jobs_needing_photo([job])


def jobs_needing_photo(jobs: Sequence[Job]) -> set[int]:
    """Return the primary keys of those of these jobs whose finished frame must still be photographed. One query."""
    keep = Consent.objects.in_force().filter(family=OuterRef("family"), purpose="keep")
    finished = Photo.objects.filter(job=OuterRef("pk"), kind="finished")
    wanting = Job.objects.filter(Exists(keep), ~Exists(finished), pk__in=[job.pk for job in jobs])
    return set(wanting.values_list("pk", flat=True))


def habits(unit: Unit) -> Habits:
    """Return the unit's hours in the clay and in the mould, as planning reads them. No query."""
    return Habits(unit.clay_rest_hours, unit.demould_hours)


def whole_cast(casts: Iterable[Cast]) -> Cast | None:
    """Return the one of a piece's casts that is not spoiled, if any."""
    return next((each for each in casts if each.spoiled_at is None), None)


def piece_now(
    job: Job,
    piece: Piece,
    casts: Iterable[Cast],
    mixing: Mixing,
    today: date,
    planned: Sequence[Planned] = (),
    cast: Cast | None = None,
) -> PieceNow:
    """Return a piece on a day, with `cast` or else the whole one of its `casts`. No query if its prints are loaded."""
    whole = cast or whole_cast(casts)
    found = None if whole else live_print(piece)
    state = _state(found, whole)
    demoulded = state in ("damp", "dry")
    taken_at = found.taken_at if found else None
    return PieceNow(
        job=job,
        piece=piece,
        state=state,
        print=found,
        cast=whole,
        spoiled=tuple(each for each in casts if each.spoiled_at),
        mixing=mixing,
        today=today,
        days_to_go=cast_days_to_go(whole, today, job.unit.drying_days)
        if whole and demoulded
        else 0,
        pour_by=timezone.localtime(habits(job.unit).pour_by(taken_at)) if taken_at else None,
        out_from=_out_from(whole, job.unit),
        planned=tuple(planned),
    )


def _state(found: ClayPrint | None, whole: Cast | None) -> State:
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


def _out_from(whole: Cast | None, unit: Unit) -> datetime | None:
    if whole is None:
        return None
    return timezone.localtime(habits(unit).demould_from(whole.pour.poured_at))


def in_a_frame(job: Job) -> bool:
    """Whether the job is being framed or is ready."""
    return job.stage in (Stage.FRAMING, Stage.READY)


def _moment_words(at: datetime | None) -> str:
    return f"{units.day(at.date())}, {at:%H:%M}" if at else ""
