"""The pages of the bench: the whole bench of a unit, and one piece on the scale."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby

from django.utils import timezone

from production import plaster
from production.bench.jobs import JobNow, begun_jobs, to_begin_today
from production.bench.piece_now import FrameNow, PieceNow, frames_now
from production.casts.forecasts import DryingRack
from production.casts.models import Cast
from production.casts.pieces import purity_of
from production.drying.warnings import room_warnings, slab_area_m2, weighing_warnings
from production.schedule import week
from studio import units
from studio.accounts.models import Unit
from studio.jobs.models import Job

WAIT_IN_HOURS_UNTIL = 72


@dataclass(frozen=True, slots=True)
class InClay:
    """The prints of one job that rest in the clay."""

    pieces: tuple[PieceNow, ...]
    now: datetime

    @property
    def job(self) -> Job:
        return self.pieces[0].job

    @property
    def waits(self) -> str:
        """Time since the print was taken: "3 h", "2 days"."""
        found = self.pieces[0].print
        taken_at = found.taken_at if found else None
        hours = (self.now - taken_at) // timedelta(hours=1) if taken_at else 0
        return f"{hours} h" if hours < WAIT_IN_HOURS_UNTIL else f"{hours // 24} days"

    @property
    def pour_by(self) -> str:
        return self.pieces[0].pour_by_words

    @property
    def is_late(self) -> bool:
        pour_by = self.pieces[0].pour_by
        return pour_by is not None and pour_by < self.now


@dataclass(frozen=True, slots=True)
class Place:
    """A place of the drying rack, numbered from 1, and the piece on it."""

    number: int
    lying: PieceNow | None


@dataclass(frozen=True, slots=True)
class Bench:
    """What the bench page shows: prints in clay, moulds, drying rack and frames of all jobs begun.

    `beside`: casts for which the drying rack had no place.
    """

    jobs: list[JobNow]
    due: week.DayPlan
    clay: list[PieceNow]
    clay_by_job: list[InClay]
    mould: list[PieceNow]
    places: tuple[Place, ...]
    beside: tuple[PieceNow, ...]
    to_frame: list[Job]
    framing: list[FrameNow]
    mix: plaster.Mix

    @property
    def taken(self) -> int:
        return sum(place.lying is not None for place in self.places)

    @property
    def rack_words(self) -> str:
        beside = f", {len(self.beside)} beside it" if self.beside else ""
        return f"{self.taken} of {len(self.places)} places taken{beside}"

    @property
    def damp(self) -> list[PieceNow]:
        """Damp pieces in the order of the drying rack, those without a place last."""
        drying_now = [*(place.lying for place in self.places), *self.beside]
        return [lying for lying in drying_now if lying and lying.state != "dry"]


def bench(unit: Unit, now: datetime) -> Bench:
    """Return the whole bench. Ten queries."""
    jobs, today = begun_jobs(unit, now), timezone.localdate(now)
    pieces = [each for job in jobs for each in job.pieces]
    clay = _in_lots([p for p in pieces if p.state == "clay"])
    mould = sorted((p for p in pieces if p.state == "mould"), key=lambda p: _out_first(p, now))
    lying = [each for job in jobs for each in job.on_the_rack]
    return Bench(
        jobs=jobs,
        due=to_begin_today(jobs, today),
        clay=clay,
        clay_by_job=[InClay(tuple(lot), now) for _, lot in groupby(clay, key=lambda p: p.job.pk)],
        mould=mould,
        places=_places(unit, lying),
        beside=tuple(each for each in lying if each.place is None),
        to_frame=[job.job for job in jobs if job.can_be_framed],
        framing=frames_now([job.job for job in jobs if job.frame]),
        mix=plaster.total_mix(p.mix for p in clay),
    )


@dataclass(frozen=True, slots=True)
class Expected:
    """The range of weights in grams that needs no question, and the words for where it comes from."""

    low_g: float
    high_g: float
    words: str


def expected(now: PieceNow) -> Expected | None:
    """Return the expected weight of the cast, from dry to its last weight; None without a cast. At most one query."""
    cast = now.cast
    if cast is None:
        return None
    share = plaster.dry_share(cast.pour.consistency, purity_of(cast))
    if now.last is None:
        fresh_g = (cast.pour.plaster_g + cast.pour.water_g) / cast.pour.casts.count()
        return Expected(fresh_g * share, fresh_g, "its share of the mix, fresh to dry")
    low_g = now.weighings[0].mass_g * share
    return Expected(
        min(low_g, now.last.mass_g), now.last.mass_g, "from dry, by its mix, to the last weight"
    )


def warnings_of(now: PieceNow, rack: DryingRack) -> list[str]:
    """Return warnings about a damp piece: an odd weighing, a late drying, or a room too cold or humid. Two queries."""
    if now.state != "damp":
        return []
    tools, room = rack.workshop, rack.room.room
    area_m2 = slab_area_m2(now.mix.volume_ml, tools.depth_mm)
    weighings = weighing_warnings(now.weighings, room=room, area_m2=area_m2, scale_g=tools.scale_g)
    forecast = now.forecast
    overdue = (
        [f"It was to be dry by {units.day(forecast.late_on)}: weigh it, and look at its place."]
        if forecast and now.today > forecast.late_on
        else []
    )
    return [*weighings, *overdue, *room_warnings(room)]


def next_to_weigh(unit: Unit, cast: Cast, now: datetime) -> Cast | None:
    """Return the next cast along the drying rack that is to be weighed today. Ten queries."""
    waiting = [
        piece.cast
        for job in begun_jobs(unit, now)
        for piece in job.on_the_rack
        if piece.cast and piece.cast.pk != cast.pk and piece.is_to_weigh
    ]
    here = _along(cast)
    return min(waiting, key=lambda other: (_along(other) < here, _along(other)), default=None)


def _along(cast: Cast) -> tuple[int, int]:
    return cast.rack_place or 10_000, cast.pk


def _in_lots(clay: list[PieceNow]) -> list[PieceNow]:
    """Sort prints by job, the job whose clay dries first in front."""
    first: dict[int, datetime] = {}
    for now in clay:
        if now.pour_by:
            first[now.job.pk] = min(first.get(now.job.pk, now.pour_by), now.pour_by)
    return sorted(clay, key=lambda now: (first[now.job.pk], now.job.pk, now.piece.pk))


def _out_first(piece: PieceNow, now: datetime) -> tuple[datetime, int]:
    return piece.out_from or now, piece.piece.pk


def _places(unit: Unit, lying: Iterable[PieceNow]) -> tuple[Place, ...]:
    at = {each.place: each for each in lying if each.place}
    # A rack that was made smaller still shows what lies beyond its end.
    last = max([unit.rack_places, *at])
    return tuple(Place(number, at.get(number)) for number in range(1, last + 1))
