"""The delivery day to promise for a new sitting, and the last sitting that meets a wanted day. By simulation.

Each sample plays the bench through with the new job on it: drying times are drawn from the forecasts, some working days
are lost, other families book sittings, and jobs are framed once dry, the soonest promise first. The day promised is
the one by which the new job was handed over in 90 % of the samples. A fixed seed, the same for every day that is asked:
the same facts give the same promise. About 0.2 s for 40 open jobs, twice that with future sittings.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from math import ceil, sqrt
from random import Random
from statistics import NormalDist

from production.planning.solver.day_grid import NEVER, Cast, Grid, Task
from production.planning.solver.greedy import draft_by_promise
from production.planning.solver.model import DAY, Bench, Drying, Job

SEED = 20_262

SAMPLES = 120

ONE_IN_TEN_SD = NormalDist().inv_cdf(0.9)

# Pieces of one job dry side by side: so much of the variance of their drying is common to all. Our estimate.
SHARED_VARIANCE = 0.25

# Nobody weighs every hour: so many days pass until a dry piece is known to be dry. Our estimate.
KNOWN_AFTER_DAYS = 1

_DAYS_THAT_MAY_BE_LOST = 200

MAX_SITTINGS_A_DAY = 6

LATER_SITTINGS_DAYS = 7


@dataclass(frozen=True, slots=True)
class Disruption:
    """The share (0 to below 1) of working days on which nothing gets done. The default is our estimate."""

    lost_day_share: float = 0.06

    def __post_init__(self) -> None:
        if not 0 <= self.lost_day_share < 1:
            raise ValueError("The share of lost days lies between 0 and 1.")


@dataclass(frozen=True, slots=True)
class FutureSittings:
    """Sittings that other families will still book: `per_day` on each working day on average, each like `typical`.

    A day already booked up to `per_day` gets no more. Every other day up to a week after the sitting in question gets
    what it lacks, by chance. Raises ValueError unless 0 <= per_day <= `MAX_SITTINGS_A_DAY`.
    """

    per_day: float
    typical: Job

    def __post_init__(self) -> None:
        if not 0 <= self.per_day <= MAX_SITTINGS_A_DAY:
            raise ValueError(f"So many sittings a day are no bench's: 0 to {MAX_SITTINGS_A_DAY}.")


@dataclass(frozen=True, slots=True)
class Promise:
    """The day to promise a family: the job is ready `on` or before with probability `confidence` (0 to 1).

    `likely_on` is the day with probability one half; `soonest_on` the day on an otherwise empty bench, if the pieces
    take as long to dry as the slowest tenth of such pieces.
    """

    sitting_on: date
    on: date
    likely_on: date
    soonest_on: date
    confidence: float

    @property
    def days(self) -> int:
        return (self.on - self.sitting_on).days


def delivery_promise(
    jobs: Iterable[Job],
    bench: Bench,
    today: date,
    sitting: Job,
    *,
    confidence: float = 0.9,
    disruption: Disruption | None = None,
    samples: int = SAMPLES,
    coming: FutureSittings | None = None,
) -> Promise:
    """Compute the day to promise for `sitting`, a job not booked yet: its pieces' `pour_from` is the day of the sitting.

    `coming`: sittings of others booked later; None for nobody. Raises ValueError if no day within two years can be
    promised, or for a confidence or a number of samples out of range.
    """
    if not 0 < confidence < 1 or samples < 1:
        raise ValueError("A confidence lies between 0 and 1, and takes one sample or more.")
    jobs, disruption = list(jobs), disruption or Disruption()
    grid = Grid([*jobs, replace(sitting, promised_on=None)], bench, today)
    task = grid.tasks[-1]
    homes = _simulated_home_days(grid, task, disruption, samples)
    # Of n random samples the k-th smallest is not exceeded with probability k / (n + 1).
    place = min(ceil(confidence * (samples + 1)), samples) - 1
    if coming and coming.per_day and homes[place] < NEVER:
        mine = replace(sitting, promised_on=grid.date(homes[place]))
        to_come = future_sittings(jobs, bench, today, mine, coming)
        grid = Grid([*jobs, mine, *(job for job, _ in to_come)], bench, today)
        task = grid.tasks[len(jobs)]
        homes = _simulated_home_days(grid, task, disruption, samples, [c for _, c in to_come])
    day = homes[place]
    if day >= NEVER:
        raise ValueError("There is no day within two years that can be promised.")
    return Promise(
        sitting_on=sitting_day(sitting, today),
        on=grid.date(day),
        likely_on=grid.date(homes[ceil(0.5 * samples) - 1]),
        soonest_on=grid.date(min(grid.home(task, grid.earliest_frame(task)), day)),
        confidence=confidence,
    )


def last_sitting_for(
    delivery_on: date,
    jobs: Iterable[Job],
    bench: Bench,
    today: date,
    sitting: Job,
    *,
    disruption: Disruption | None = None,
    samples: int = SAMPLES,
    coming: FutureSittings | None = None,
) -> Promise | None:
    """Find the last working day for a sitting whose job is handed over by `delivery_on` with 90 % confidence.

    None if no day is left. Bisection: a handful of `delivery_promise` calls.
    """
    jobs = tuple(jobs)
    promise = partial(delivery_promise, disruption=disruption, samples=samples, coming=coming)
    days = [on for on in _days(today, delivery_on) if bench.is_open(on)]
    low, high, found = 0, len(days) - 1, None
    offered: Promise | None
    while low <= high:
        middle = (low + high) // 2
        try:
            offered = promise(jobs, bench, today, move_sitting(sitting, days[middle]))
        except ValueError:
            offered = None
        if offered and offered.on <= delivery_on:
            found, low = offered, middle + 1
        else:
            high = middle - 1
    return found


def sitting_day(sitting: Job, today: date) -> date:
    return min((piece.pour_from for piece in sitting.pieces if piece.pour_from), default=today)


def move_sitting(sitting: Job, on: date) -> Job:
    """Move a job's sitting to another day; its clay keeps as long as before."""
    later = on - sitting_day(sitting, on)
    pieces = tuple(
        replace(piece, pour_from=piece.pour_from + later, pour_by=piece.pour_by + later)
        if piece.pour_from and piece.pour_by
        else piece
        for piece in sitting.pieces
    )
    return replace(sitting, pieces=pieces)


def days_until_dry(drying: Drying, z: float) -> float:
    """Days until dry of a piece that is `z` standard deviations slower than likely, by the forecast's quantiles."""
    outer = drying.late_days if z > 0 else drying.early_days
    if drying.likely_days <= 0 or outer <= 0:
        return drying.likely_days
    return float(drying.likely_days * (outer / drying.likely_days) ** (abs(z) / ONE_IN_TEN_SD))


def _days(first: date, last: date) -> Sequence[date]:
    return [first + number * DAY for number in range((last - first).days + 1)]


def future_sittings(
    jobs: Sequence[Job], bench: Bench, today: date, mine: Job, coming: FutureSittings
) -> list[tuple[Job, float]]:
    """List jobs that others may still book from tomorrow on, each with its probability (above 0, at most 1).

    There are as many a day as `coming` expects, less those booked in `jobs`, on open days only. Each is a copy of the
    typical job, promised as many days after its sitting as `mine` is.
    """
    sits_on = sitting_day(mine, today)
    days = ((mine.promised_on or sits_on) - sits_on).days
    booked = Counter(sitting_day(job, today) for job in jobs)
    found = []
    for on in _days(today + DAY, sits_on + LATER_SITTINGS_DAYS * DAY):
        lacking = coming.per_day - booked[on] if bench.is_open(on) else 0.0
        for number in range(ceil(lacking)):
            typical = move_sitting(coming.typical, on)
            job = replace(typical, key=f"to come {on} {number}", promised_on=on + days * DAY)
            found.append((job, min(lacking - number, 1.0)))
    return found


def _simulated_home_days(
    grid: Grid, task: Task, disruption: Disruption, samples: int, chances: Sequence[float] = ()
) -> list[int]:
    """Simulate the hand-over day of `task` in each sample, sorted; `chances` belong to the tasks after it, which may not come."""
    # Seeded by sample, so that every sitting that is asked for meets the same days and the same drying.
    homes = []
    for sample in range(samples):
        rng = Random(f"{SEED} {sample}")  # noqa: S311 - chances of drying, no secrets
        lost = [
            day for day in range(_DAYS_THAT_MAY_BE_LOST) if rng.random() < disruption.lost_day_share
        ]
        played = grid.with_lost_days(lost)
        own = Random(f"{SEED} {sample} own")  # noqa: S311
        to_come = played.tasks[task.index + 1 :]
        played.tasks = played.tasks[: task.index + 1]
        for each in played.tasks:
            _dry(played, each, own if each.index == task.index else rng)
        come = Random(f"{SEED} {sample} to come")  # noqa: S311
        for each, chance in zip(to_come, chances, strict=True):
            if come.random() < chance:
                each.index = len(played.tasks)
                played.tasks.append(each)
                _dry(played, each, come)
        homes.append(draft_by_promise(played).home(played, played.tasks[task.index]))
    return sorted(homes)


def _dry(grid: Grid, task: Task, rng: Random) -> None:
    """Draw for each cast the day on which it is known to be dry."""
    shared = rng.gauss(0, sqrt(SHARED_VARIANCE))
    for cast in task.casts:
        z = shared + rng.gauss(0, sqrt(1 - SHARED_VARIANCE))
        if not cast.piece.is_dry:
            cast.dry = _dry_day(grid, cast, z)


def _dry_day(grid: Grid, cast: Cast, z: float) -> int:
    piece = cast.piece
    days = ceil(days_until_dry(piece.drying, z)) + KNOWN_AFTER_DAYS
    return days if cast.demould else max(0, grid.day(piece.demoulded_on) + days)
