"""The facts of a unit's jobs for the pure planning of `production.week`."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime

from django.utils import timezone

from production import week
from production.queries.bench import PieceNow, habits, loaded, pieces_now
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
        pieces=tuple(_of_piece(each) for each in pieces_now(job, now)),
        promised_on=job.promised_on,
        framing_since=local_day(job.frame.started_at) if framing else None,
        is_ready=job.stage == Stage.READY,
    )


def _of_piece(now: PieceNow) -> week.PieceFacts:
    cast, found = now.cast, now.print
    taken_at = (found.taken_at or found.sitting.starts_at) if found else None
    out = cast.demoulded_at if cast else None
    return week.PieceFacts(
        name=str(now.piece),
        taken_at=timezone.localtime(taken_at) if taken_at else None,
        poured_at=timezone.localtime(cast.pour.poured_at) if cast else None,
        demoulded_on=local_day(out) if out else None,
        weighed_on=now.last.at.date() if now.last else None,
        last_g=now.last.mass_g if now.last else None,
        dry_on=_dry_on(now),
        is_dry=now.state == "dry",
        rack_place=cast.rack_place if cast else None,
        plaster_g=now.mix.plaster_g,
        water_g=now.mix.water_g,
    )


def _dry_on(now: PieceNow) -> date | None:
    if now.state == "dry" and now.cast and now.cast.dry_at:
        return local_day(now.cast.dry_at)
    return now.probably_dry_on if now.state == "damp" else None
