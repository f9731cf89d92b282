"""The facts of a unit's jobs for the pure planning of `production.week`."""

from collections.abc import Sequence
from datetime import date, datetime

from production import week
from production.queries.bench import habits
from production.queries.in_hand import in_hand
from production.queries.pieces import local_day
from studio.models import Unit


def week_plan(unit: Unit, days: Sequence[date], now: datetime) -> tuple[week.DayPlan, ...]:
    """What is due on each of these days, as seen at `now`; six queries."""
    return week.week(days, facts(unit, now), habits(unit), local_day(now))


def to_begin_today(unit: Unit, now: datetime) -> week.DayPlan:
    """What can be begun today; six queries."""
    tasks = [task for job in in_hand(unit, now) for task in job.to_begin]
    return week.day_of(local_day(now), tasks)


def facts(unit: Unit, now: datetime) -> list[week.JobFacts]:
    """Of all jobs in hand, the soonest promised first; six queries."""
    return [job.facts for job in in_hand(unit, now)]
