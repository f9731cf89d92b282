"""The whole bench of a unit: the clay, the moulds, the rack and the frames."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from production import plaster, week
from production.queries import slips
from production.queries.bench import PieceNow
from production.queries.in_hand import JobNow, in_hand
from production.queries.mixes import mixing_of, predicted_mix
from production.queries.pieces import local_day
from studio.models import Unit


@dataclass(frozen=True, slots=True)
class Bench:
    """`jobs` are all in hand; `beside` are casts that the rack had no place for."""

    jobs: list[JobNow]
    due: week.DayPlan
    clay: list[PieceNow]
    lots: list[slips.InClay]
    mould: list[slips.InMould]
    places: tuple[slips.Place, ...]
    beside: tuple[slips.Lying, ...]
    to_frame: list[slips.ToFrame]
    framing: list[slips.FrameNow]
    mix: plaster.Mix

    @property
    def taken(self) -> int:
        return sum(place.lying is not None for place in self.places)

    @property
    def rack_words(self) -> str:
        beside = f", {len(self.beside)} beside it" if self.beside else ""
        return f"{self.taken} of {len(self.places)} places taken{beside}"

    @property
    def damp(self) -> list[slips.Lying]:
        """Damp pieces in the order of the rack, those without a place last."""
        drying_now = [*(place.lying for place in self.places), *self.beside]
        return [lying for lying in drying_now if lying and not lying.is_dry]


def bench(unit: Unit, now: datetime) -> Bench:
    """The whole bench in a constant number of queries."""
    jobs, today = in_hand(unit, now), local_day(now)
    pieces = [each for job in jobs for each in job.pieces]
    clay = _in_lots([p for p in pieces if p.state == "clay"])
    mould = sorted((p for p in pieces if p.state == "mould"), key=lambda p: _out_first(p, now))
    lying = [each for job in jobs for each in job.lying]
    return Bench(
        jobs=jobs,
        due=week.day_of(today, [task for job in jobs for task in job.to_begin]),
        clay=clay,
        lots=[slips.in_clay(list(lot), now) for _, lot in groupby(clay, key=lambda p: p.job.pk)],
        mould=[slips.in_mould(p, now) for p in mould],
        places=_places(unit, lying),
        beside=tuple(each for each in lying if each.place is None),
        to_frame=[slips.to_frame(job.job) for job in jobs if job.can_be_framed],
        framing=[job.frame for job in jobs if job.frame],
        mix=predicted_mix((p.piece for p in clay), mixing_of(unit), today),
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


def _places(unit: Unit, lying: Iterable[slips.Lying]) -> tuple[slips.Place, ...]:
    at = {each.place: each for each in lying if each.place}
    # A rack that was made smaller still shows what lies beyond its end.
    last = max([unit.rack_places, *at])
    return tuple(slips.Place(number, at.get(number)) for number in range(1, last + 1))
