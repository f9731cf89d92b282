"""The facts of a unit's jobs for the pure planning of `production.week`."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime

from django.db.models import Exists, OuterRef, Q

from bookings.models import Impression
from production import week
from production.queries.bench import PieceNow, as_they_stand, habits, in_hand, steps_of
from production.queries.pieces import local_day
from studio.models import Job, Unit
from studio.stages import Stage


def week_plan(
    unit: Unit,
    days: Sequence[date],
    now: datetime,
    jobs: Mapping[Job, Sequence[PieceNow]] | None = None,
) -> tuple[week.DayPlan, ...]:
    """What is due on each of these days, as seen at `now`; a constant number of queries.

    None where the `jobs` in hand are given with their pieces.
    """
    known = in_hand(unit, now) if jobs is None else jobs
    return week.week(days, facts(known), habits(unit), local_day(now))


def to_begin_today(unit: Unit, now: datetime) -> week.DayPlan:
    """What can be begun at the bench today, hand-overs left aside; five queries.

    Before its first print and after its frame is checked, a job has nothing to do there.
    """
    printed = Exists(Impression.objects.taken().filter(piece__job=OuterRef("pk")))
    at_the_bench = unit.jobs.in_hand().exclude(stage=Stage.READY)
    jobs = as_they_stand(at_the_bench.filter(~Q(stage=Stage.BOOKED) | printed), now)
    return week_plan(unit, [local_day(now)], now, jobs)[0].to_begin


def facts(jobs: Mapping[Job, Sequence[PieceNow]]) -> list[week.JobFacts]:
    """Of jobs with their pieces as they stand; no query."""
    return [_of_job(job, pieces) for job, pieces in jobs.items()]


def _of_job(job: Job, pieces: Sequence[PieceNow]) -> week.JobFacts:
    framing = job.stage == Stage.FRAMING
    return week.JobFacts(
        reference=job.reference,
        names=job.first_names,
        pieces=tuple(each.facts for each in pieces),
        promised_on=job.promised_on,
        framing_since=local_day(job.frame.started_at) if framing else None,
        steps_done=tuple(s.name for s in steps_of(job.frame) if s.at) if framing else (),
        is_ready=job.stage == Stage.READY,
    )
