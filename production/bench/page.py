"""The whole bench of a unit: the clay, the moulds, the drying rack and the frames."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby

from production import plaster
from production.bench.jobs import JobNow, begun_jobs, to_begin_today
from production.bench.piece_now import FrameNow, PieceNow
from production.casts.pieces import local_day
from production.schedule import week
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
        """How long they have been there: "3 h", "2 days"."""
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
    """A place of the drying rack, numbered from 1, and the piece that lies there."""

    number: int
    lying: PieceNow | None


@dataclass(frozen=True, slots=True)
class Bench:
    """`jobs` are the open jobs of which a sitting is done; `beside` are casts that the drying rack had no place for."""

    jobs: list[JobNow]
    due: week.DayPlan
    clay: list[PieceNow]
    lots: list[InClay]
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
        """Damp pieces in the order of the rack, those without a place last."""
        drying_now = [*(place.lying for place in self.places), *self.beside]
        return [lying for lying in drying_now if lying and lying.state != "dry"]


def bench(unit: Unit, now: datetime) -> Bench:
    """Return the whole bench. Ten queries."""
    jobs, today = begun_jobs(unit, now), local_day(now)
    pieces = [each for job in jobs for each in job.pieces]
    clay = _in_lots([p for p in pieces if p.state == "clay"])
    mould = sorted((p for p in pieces if p.state == "mould"), key=lambda p: _out_first(p, now))
    lying = [each for job in jobs for each in job.on_the_rack]
    return Bench(
        jobs=jobs,
        due=to_begin_today(jobs, today),
        clay=clay,
        lots=[InClay(tuple(lot), now) for _, lot in groupby(clay, key=lambda p: p.job.pk)],
        mould=mould,
        places=_places(unit, lying),
        beside=tuple(each for each in lying if each.place is None),
        to_frame=[job.job for job in jobs if job.can_be_framed],
        framing=[frame for job in jobs if (frame := job.frame)],
        mix=plaster.total_mix(p.mix for p in clay),
    )


def _in_lots(clay: list[PieceNow]) -> list[PieceNow]:
    """A job's prints together, the job whose clay dries first before the others."""
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
