"""Questions to the plan: a delivery promise, the last sitting for a day, the cost of days off."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.utils import timezone

from production.bench.jobs import JobNow
from production.bench.piece_now import habits
from production.planning.inputs import PlanInputs, plan_inputs
from production.planning.plan_runs import quick_plan
from production.planning.solver import model
from production.planning.solver.comparison import LaterJob, what_if
from production.planning.solver.promises import (
    MAX_SITTINGS_A_DAY,
    FutureSittings,
    Promise,
    delivery_promise,
    last_sitting_for,
)
from production.working_week.calendar import working_week
from studio.accounts.models import Unit
from studio.jobs.promises import PromiseEstimate, promise_estimator
from studio.limbs import Limb

# A print of nine children in ten takes about so much slurry: 120 × 120 × 20 mm.
PRINT_ML = 288.0

# With more jobs than this a promise is drawn from fewer trials: it is to come within a second or two.
MANY_JOBS, FEWER_SAMPLES, SAMPLES = 60, 40, 120

MOST_DAYS_OFF = 92

# Others will book as many as came lately, each of two prints: our estimate.
USUAL_WEEKS = 8

USUAL_LIMBS = (Limb.LEFT_HAND, Limb.RIGHT_FOOT)


@dataclass(frozen=True, slots=True)
class WeekOff:
    """Effects of days off: jobs that become late, prints that could not be poured, steps that move."""

    first_on: date
    last_on: date
    later: list[tuple[JobNow, LaterJob]]
    lost_prints: int
    moved: int


@promise_estimator
def promise(
    unit: Unit, sitting_on: date, limbs: Sequence[Limb], now: datetime
) -> PromiseEstimate | None:
    """Return the delivery day kept with a probability of 90 %; None for a past sitting or if no day is found."""
    found = plan_inputs(unit, now)
    if sitting_on < found.today:
        return None
    sitting = sitting_job(found, sitting_on, limbs)
    try:
        asked = delivery_promise(
            found.jobs,
            found.bench,
            found.today,
            sitting,
            samples=_samples(found),
            coming=future_sittings(found, now),
        )
    except ValueError:
        return None
    return PromiseEstimate(asked.on, asked.likely_on)


def last_sitting(
    unit: Unit, delivery_on: date, limbs: Sequence[Limb], now: datetime
) -> Promise | None:
    """Return the last sitting that is delivered by the day with a probability of 90 %; None if it is too late."""
    found = plan_inputs(unit, now)
    sitting = sitting_job(found, found.today, limbs)
    return last_sitting_for(
        delivery_on,
        found.jobs,
        found.bench,
        found.today,
        sitting,
        samples=_samples(found),
        coming=future_sittings(found, now),
    )


def future_sittings(found: PlanInputs, now: datetime) -> FutureSittings | None:
    """Estimate sittings a working day from the last eight weeks; None if there were none. Two queries."""
    since = timedelta(weeks=USUAL_WEEKS)
    held = found.unit.sittings.filter(state="done", starts_at__range=(now - since, now)).count()
    days = (found.today - timedelta(days=number) for number in range(1, since.days + 1))
    worked = sum(found.bench.is_open(day) for day in days)
    if not held or not worked:
        return None
    like = sitting_job(found, found.today, USUAL_LIMBS)
    return FutureSittings(min(held / worked, MAX_SITTINGS_A_DAY), like)


def week_off(unit: Unit, first_on: date, last_on: date, now: datetime) -> WeekOff:
    """Return who would be late for these days off; nothing is stored. At most `MOST_DAYS_OFF` days."""
    found = plan_inputs(unit, now)
    days = min((last_on - first_on).days + 1, MOST_DAYS_OFF)
    off = [first_on + timedelta(days=number) for number in range(days)]
    asked = what_if(found.jobs, found.bench, found.today, off, quick_plan(found))
    return WeekOff(
        first_on=first_on,
        last_on=off[-1],
        later=[(found.known[each.key], each) for each in asked.later],
        lost_prints=asked.lost_prints,
        moved=len(asked.moved),
    )


def sitting_job(found: PlanInputs, sitting_on: date, limbs: Sequence[Limb]) -> model.Job:
    """Return a job that is not booked yet, as the solver takes it. One query."""
    unit, kept = found.unit, working_week(found.unit)
    # A sitting in the middle of the day: in the evening its clay would keep longer.
    taken_at = datetime.combine(sitting_on, time(12), timezone.get_current_timezone())
    return model.Job(
        key="a new sitting",
        pieces=tuple(
            model.Piece(
                key=f"{number} {limb.label}",
                drying=found.drying[limb],
                pour_from=sitting_on,
                pour_by=habits(unit).last_pour_day(taken_at),
                volume_ml=PRINT_ML,
            )
            for number, limb in enumerate(limbs)
        ),
        frame_minutes=kept.frame_minutes + kept.piece_minutes * len(limbs),
        cure_days=kept.cure_days,
    )


def _samples(found: PlanInputs) -> int:
    return FEWER_SAMPLES if len(found.jobs) > MANY_JOBS else SAMPLES
