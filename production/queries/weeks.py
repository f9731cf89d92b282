"""The facts of a unit's jobs for the pure planning of `production.week`."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime

from django.db.models import Exists, OuterRef, Q

from bookings.models import Impression
from production import week
from production.queries.bench import habits, in_hand, load, pieces_now, steps_of
from production.queries.pieces import local_day
from studio.models import Job, Unit
from studio.stages import Stage


def week_plan(
    unit: Unit, days: Sequence[date], now: datetime, jobs: Iterable[Job] | None = None
) -> tuple[week.DayPlan, ...]:
    """What is due on each of these days, as seen at `now`; a constant number of queries.

    None where the `jobs` in hand are given, `load`ed.
    """
    known = in_hand(unit) if jobs is None else jobs
    return week.week(days, facts(known, now), habits(unit), local_day(now))


def to_begin_today(unit: Unit, now: datetime) -> week.DayPlan:
    """What can be begun at the bench today, hand-overs left aside; five queries.

    Before its first print and after its frame is checked, a job has nothing to do there.
    """
    printed = Exists(Impression.objects.taken().filter(piece__job=OuterRef("pk")))
    at_the_bench = unit.jobs.in_hand().exclude(stage=Stage.READY)
    jobs = list(
        at_the_bench.filter(~Q(stage=Stage.BOOKED) | printed).select_related("family", "frame")
    )
    load(jobs)
    return week_plan(unit, [local_day(now)], now, jobs)[0].to_begin


def facts(jobs: Iterable[Job], now: datetime) -> list[week.JobFacts]:
    """No query for jobs that were `load`ed."""
    return [_of_job(job, now) for job in jobs]


def _of_job(job: Job, now: datetime) -> week.JobFacts:
    framing = job.stage == Stage.FRAMING
    return week.JobFacts(
        reference=job.reference,
        names=job.first_names,
        pieces=tuple(each.facts for each in pieces_now(job, now)),
        promised_on=job.promised_on,
        framing_since=local_day(job.frame.started_at) if framing else None,
        steps_done=tuple(s.name for s in steps_of(job.frame) if s.at) if framing else (),
        is_ready=job.stage == Stage.READY,
    )
