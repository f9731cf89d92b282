"""A year of a busy unit, day by day: it books, promises, plans, does what the plan says, and things go wrong.

The truth of each piece is hidden from the plan, which learns of it by weighing. `kept` says how many promises were.

Busy means 3.3 new jobs a week (none to two on each of four working days) of 2.4 pieces, some twelve open at a time,
busier four. The bench could end 4.7 a week at the most, by its rack of 24: played with demand without end and promises
of four weeks. The promise is told how many come, and takes each for an ordinary job of two pieces. One working day in seventeen is lost altogether: a little over one a month, for illness, a child at home or a power cut.
All of it is from memory, none of it was measured in a studio.
"""

from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from itertools import pairwise
from math import ceil, log, sqrt
from random import Random
from statistics import NormalDist

from production.planning.solver.model import Bench, Drying, Job, Piece
from production.planning.solver.planner import plan_quickly
from production.planning.solver.promises import FutureSittings, delivery_promise

DAY = timedelta(days=1)
FIRST = date(2026, 1, 5)
NORMAL = NormalDist()
BUSY = (0, 0, 1, 1, 1, 2)  # booked on each working day alike
BUSIER = (0, 1, 1, 1, 1, 2)
LOST_DAY_SHARE = 1 / 17
BENCH = Bench(
    minutes_by_weekday=(180, 180, 180, 180, 0, 0, 0),
    framing_minutes_per_day=120,
    setup_minutes=15,
    rack_places=24,
    courier_weekdays=frozenset({1, 3}),
)


def as_forecast(rng, drying, shared):
    """Days until dry as the forecast says: half of the variance is common to the pieces of a job."""
    z = sqrt(0.5) * shared + sqrt(0.5) * rng.gauss(0, 1)
    return drying.likely_days * exp_of(drying, z)


def exp_of(drying, z):
    outer = drying.late_days if z > 0 else drying.early_days
    return (outer / drying.likely_days) ** (abs(z) / NORMAL.inv_cdf(0.9))


def otherwise_shaped(rng, drying, _shared):
    """Flat between the same three quantiles, with one in ten up to three tenths longer; each piece by itself."""
    low, high = 0.5 * drying.early_days, 1.3 * drying.late_days
    knots = [
        (0, low),
        (0.1, drying.early_days),
        (0.5, drying.likely_days),
        (0.9, drying.late_days),
        (1, high),
    ]
    share = rng.random()
    for (before, first), (after, last) in pairwise(knots):
        if share <= after:
            return first + (last - first) * (share - before) / (after - before)
    return high


@dataclass
class Year:
    """`dries` draws the truth of a piece."""

    rng: Random
    dries: object
    booked_a_day: tuple = BUSY
    samples: int = 40
    jobs: dict = field(default_factory=dict)
    truth: dict = field(default_factory=dict)
    homes: list = field(default_factory=list)
    plan: object = None
    number: int = 0

    def run(self, days):
        for today in (FIRST + n * DAY for n in range(days)):
            if BENCH.is_open(today):
                self._book(today)
                if self.rng.random() >= LOST_DAY_SHARE:
                    self._work(today)
        return self

    @property
    def kept(self):
        """The share of promises kept, of jobs that are home and of those already late."""
        return sum(home <= promised for promised, home in self.homes) / len(self.homes)

    @property
    def coming(self):
        drying, last = Drying(7 * 0.66, 7, 7 * 1.5), FIRST + 4 * DAY
        pieces = tuple(Piece(str(n), drying, FIRST, last, volume_ml=300) for n in range(2))
        like = Job("like", pieces, frame_minutes=55, cure_days=1)
        return FutureSittings(sum(self.booked_a_day) / len(self.booked_a_day), like)

    def _book(self, today):
        for _ in range(self.rng.choice(self.booked_a_day)):
            on = today + self.rng.randint(2, 14) * DAY
            while not BENCH.is_open(on):
                on += DAY
            self.number += 1
            job = self._sitting(f"J{self.number}", on)
            asked = delivery_promise(
                self.jobs.values(), BENCH, today, job, samples=self.samples, coming=self.coming
            )
            self.jobs[job.key] = replace(job, promised_on=asked.on)

    def _sitting(self, key, on):
        likely = self.rng.uniform(6, 8)
        drying = Drying(likely * 0.66, likely, likely * 1.5)
        shared, pieces = self.rng.gauss(0, 1), []
        for number in range(self.rng.choice((1, 2, 2, 3, 4))):
            pieces.append(Piece(str(number), drying, on, on + 4 * DAY, volume_ml=300))
            self.truth[key, str(number)] = ceil(self.dries(self.rng, drying, shared))
        return Job(
            key,
            tuple(pieces),
            frame_minutes=self.rng.choice((40, 50, 60, 70)),
            finish=self.rng.choice(("oiled", "white")),
            cure_days=self.rng.choice((0, 1, 2)),
            by_courier=self.rng.random() < 0.3,
        )

    def _work(self, today):
        self.plan = plan_quickly(self.jobs.values(), BENCH, today, self.plan)
        due = [(job, step) for job in self.plan.jobs for step in job.steps if step.on == today]
        for planned, step in due:
            job = self.jobs.get(planned.key)
            if step.kind == "hand_over":
                self.homes.append((job.promised_on, today))
                del self.jobs[job.key]
            elif step.kind == "frame":
                if all(piece.is_dry for piece in job.pieces):
                    self.jobs[job.key] = replace(job, framed_on=today)
            elif step.kind != "ready":
                pieces = tuple(
                    self._done(job, piece, step.kind, today) if piece.key == step.piece else piece
                    for piece in job.pieces
                )
                self.jobs[job.key] = replace(job, pieces=pieces)

    def _done(self, job, piece, kind, today):
        if kind == "pour":
            return replace(piece, poured_on=today)
        if kind == "demould":
            return replace(piece, demoulded_on=today)
        dried_days = (today - piece.demoulded_on).days
        if dried_days >= self.truth[job.key, piece.key]:
            return replace(piece, weighed_on=today, is_dry=True)
        return replace(piece, weighed_on=today, drying=_still_wet(piece.drying, dried_days))


def _still_wet(drying, days):
    """The forecast of a piece that is not dry after so many days: what is left of the same distribution."""
    if days <= 0:
        return drying
    outer = drying.late_days if days > drying.likely_days else drying.early_days
    sd = abs(log(outer / drying.likely_days)) / NORMAL.inv_cdf(0.9) or 1e-3
    past = NORMAL.cdf(log(days / drying.likely_days) / sd)
    quantiles = (min(past + (1 - past) * share, 0.999) for share in (0.1, 0.5, 0.9))
    early, likely, late = (
        drying.likely_days * exp_of(drying, NORMAL.inv_cdf(share)) for share in quantiles
    )
    return Drying(early, max(likely, early), max(late, likely, days + 1))
