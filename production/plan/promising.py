"""The day that can be promised for a new sitting, and the last sitting for a day that is wished.

The bench is played through many times with the new job on it: every piece dries as long as its forecast allows, here
and there a day is lost, others book their sittings, jobs are framed as soon as they are dry, those first that are promised
soonest. The day promised is the one by which the new job was home in nine of ten of these. The chances are drawn from a fixed seed, the same for
every day that is asked: the same facts give the same promise. About 0.2 s for 40 open jobs, twice that with others to come.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import ceil, sqrt
from random import Random
from statistics import NormalDist

from production.plan.facts import DAY, Bench, Drying, Job
from production.plan.grid import NEVER, Cast, Grid, Task
from production.plan.quick import one_draft

SEED = 20_262
SAMPLES = 120
ONE_IN_TEN_SD = NormalDist().inv_cdf(0.9)
# Pieces of one job lie side by side: so much of the variance of their drying is the same for all. Our estimate.
SHARED_VARIANCE = 0.25
# Nobody weighs every hour: so many days after it is dry it is known to be. Our estimate.
SEEN_AFTER_DAYS = 1
_LOSES_UNTIL_DAY = 200
MOST_A_DAY = 6
COME_AFTER_DAYS = 7


@dataclass(frozen=True, slots=True)
class Slips:
    """What goes wrong beside drying: the share of working days on which nothing is done after all. Our estimate."""

    lost_day_share: float = 0.06

    def __post_init__(self) -> None:
        if not 0 <= self.lost_day_share < 1:
            raise ValueError("The share of lost days lies between 0 and 1.")


@dataclass(frozen=True, slots=True)
class Coming:
    """What others will still book: so many sittings on a working day in the long run, each like `like`.

    A day that has as many already gets no more; of any other day that lies before the sitting that is asked for, or
    up to a week behind it, what it lacks is drawn by chance.
    """

    a_day: float
    like: Job

    def __post_init__(self) -> None:
        if not 0 <= self.a_day <= MOST_A_DAY:
            raise ValueError(f"So many sittings a day are no bench's: 0 to {MOST_A_DAY}.")


@dataclass(frozen=True, slots=True)
class Promise:
    """Home by `on` with the `confidence` asked for; half the time by `likely_on`, and by `soonest_on` on an empty
    bench if it dries by the day by which nine of ten do. `days` from the sitting to `on`."""

    sitting_on: date
    on: date
    likely_on: date
    soonest_on: date
    confidence: float

    @property
    def days(self) -> int:
        return (self.on - self.sitting_on).days


def promise(
    jobs: Iterable[Job],
    bench: Bench,
    today: date,
    sitting: Job,
    *,
    confidence: float = 0.9,
    slips: Slips | None = None,
    samples: int = SAMPLES,
    coming: Coming | None = None,
) -> Promise:
    """The day to promise for a job not yet booked, `sitting`, whose pieces have the `pour_from` of its day.

    `coming` are those who will book after it and take places before it is home; None: nobody. Raises
    ValueError where no day within two years can be promised, or the facts make no sense.
    """
    if not 0 < confidence < 1 or samples < 1:
        raise ValueError("A confidence lies between 0 and 1, and takes one sample or more.")
    jobs, slips = list(jobs), slips or Slips()
    grid = Grid([*jobs, replace(sitting, promised_on=None)], bench, today)
    task = grid.tasks[-1]
    soonest = grid.home(task, grid.earliest_frame(task))
    homes = sorted(_homes(grid, task, slips, samples))
    # Of n drawn at random the k-th is not passed with k / (n + 1).
    place = min(ceil(confidence * (samples + 1)), samples) - 1
    if coming and coming.a_day and homes[place] < NEVER:
        mine = replace(sitting, promised_on=grid.date(homes[place]))
        to_come = others(jobs, bench, today, mine, coming)
        grid = Grid([*jobs, mine, *(job for job, _ in to_come)], bench, today)
        task = grid.tasks[len(jobs)]
        homes = sorted(_homes(grid, task, slips, samples, [chance for _, chance in to_come]))
    day = homes[place]
    if day >= NEVER:
        raise ValueError("There is no day within two years that can be promised.")
    return Promise(
        sitting_on=sitting_day(sitting, today),
        on=grid.date(day),
        likely_on=grid.date(homes[ceil(0.5 * samples) - 1]),
        soonest_on=grid.date(min(soonest, day)),
        confidence=confidence,
    )


def last_sitting_for(
    delivery_on: date,
    jobs: Iterable[Job],
    bench: Bench,
    today: date,
    sitting: Job,
    *,
    slips: Slips | None = None,
    samples: int = SAMPLES,
    coming: Coming | None = None,
) -> Promise | None:
    """The last working day for a sitting whose job is home by `delivery_on` with 90 %; None where none is left."""
    jobs = tuple(jobs)

    def promised(on: date) -> Promise | None:
        try:
            asked = promise(
                jobs,
                bench,
                today,
                moved_to(sitting, on),
                slips=slips,
                samples=samples,
                coming=coming,
            )
        except ValueError:
            return None
        return asked if asked.on <= delivery_on else None

    days = [on for on in _days(today, delivery_on) if bench.is_open(on)]
    low, high, found = 0, len(days) - 1, None
    while low <= high:
        middle = (low + high) // 2
        if (asked := promised(days[middle])) is not None:
            found, low = asked, middle + 1
        else:
            high = middle - 1
    return found


def sitting_day(sitting: Job, today: date) -> date:
    return min((piece.pour_from for piece in sitting.pieces if piece.pour_from), default=today)


def moved_to(sitting: Job, on: date) -> Job:
    """The same job with its sitting on another day, its clay kept as long."""
    later = on - sitting_day(sitting, on)
    pieces = tuple(
        replace(piece, pour_from=piece.pour_from + later, pour_by=piece.pour_by + later)
        if piece.pour_from and piece.pour_by
        else piece
        for piece in sitting.pieces
    )
    return replace(sitting, pieces=pieces)


def dry_days(drying: Drying, z: float) -> float:
    """Days until dry of a piece that is `z` standard deviations slow, by the forecast's three quantiles."""
    outer = drying.late_days if z > 0 else drying.early_days
    if drying.likely_days <= 0 or outer <= 0:
        return drying.likely_days
    return float(drying.likely_days * (outer / drying.likely_days) ** (abs(z) / ONE_IN_TEN_SD))


def _days(first: date, last: date) -> Sequence[date]:
    return [first + number * DAY for number in range((last - first).days + 1)]


def others(
    jobs: Sequence[Job], bench: Bench, today: date, mine: Job, coming: Coming
) -> list[tuple[Job, float]]:
    """Sittings that others may book, promised after as many days as this one, each with its chance."""
    sits_on = sitting_day(mine, today)
    days = ((mine.promised_on or sits_on) - sits_on).days
    booked = Counter(sitting_day(job, today) for job in jobs)
    found = []
    for on in _days(today + DAY, sits_on + COME_AFTER_DAYS * DAY):
        lacking = coming.a_day - booked[on] if bench.is_open(on) else 0.0
        for number in range(ceil(lacking)):
            like = moved_to(coming.like, on)
            job = replace(like, key=f"to come {on} {number}", promised_on=on + days * DAY)
            found.append((job, min(lacking - number, 1.0)))
    return found


def _homes(
    grid: Grid, task: Task, slips: Slips, samples: int, chances: Sequence[float] = ()
) -> Iterable[int]:
    """`chances` are those of the tasks behind `task`: whether each comes at all."""
    # Each day and each sample has its own luck, whatever sitting is asked for.
    for sample in range(samples):
        luck = Random(f"{SEED} {sample}")  # noqa: S311 - chances of drying, no secrets
        lost = [day for day in range(_LOSES_UNTIL_DAY) if luck.random() < slips.lost_day_share]
        played = grid.without(lost)
        own = Random(f"{SEED} {sample} own")  # noqa: S311
        to_come = played.tasks[task.index + 1 :]
        played.tasks = played.tasks[: task.index + 1]
        for each in played.tasks:
            _dry(played, each, own if each.index == task.index else luck)
        come = Random(f"{SEED} {sample} to come")  # noqa: S311
        for each, chance in zip(to_come, chances, strict=True):
            if come.random() < chance:
                each.index = len(played.tasks)
                played.tasks.append(each)
                _dry(played, each, come)
        yield one_draft(played).home(played, played.tasks[task.index])


def _dry(grid: Grid, task: Task, luck: Random) -> None:
    """Give each cast the day on which it turns out to be dry."""
    shared = luck.gauss(0, sqrt(SHARED_VARIANCE))
    for cast in task.casts:
        z = shared + luck.gauss(0, sqrt(1 - SHARED_VARIANCE))
        if not cast.piece.is_dry:
            cast.dry = _dry_day(grid, cast, z)


def _dry_day(grid: Grid, cast: Cast, z: float) -> int:
    piece = cast.piece
    days = ceil(dry_days(piece.drying, z)) + SEEN_AFTER_DAYS
    return days if cast.out else max(0, grid.day(piece.demoulded_on) + days)
