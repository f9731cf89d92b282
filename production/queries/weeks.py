"""The facts of a unit's jobs for the pure planning of `production.week`."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime

from production import week
from production.queries.bench import frame_now, habits, loaded, pieces_now
from production.queries.pieces import local_day
from studio.models import Job, Unit
from studio.stages import Stage


def week_plan(unit: Unit, days: Sequence[date], now: datetime) -> tuple[week.DayPlan, ...]:
    """What is due on each of these days, as seen at `now`; a constant number of queries."""
    jobs = loaded(unit.jobs.in_hand()).soonest_first()
    return week.week(days, facts(jobs, now), habits(unit), local_day(now))


def facts(jobs: Iterable[Job], now: datetime) -> list[week.JobFacts]:
    """No query for jobs that were `loaded`."""
    return [_of_job(job, now) for job in jobs]


def _of_job(job: Job, now: datetime) -> week.JobFacts:
    framing = job.stage == Stage.FRAMING
    return week.JobFacts(
        reference=job.reference,
        names=job.first_names,
        pieces=tuple(each.facts for each in pieces_now(job, now)),
        promised_on=job.promised_on,
        framing_since=local_day(job.frame.started_at) if framing else None,
        steps_done=frame_now(job).done if framing else (),
        is_ready=job.stage == Stage.READY,
    )
