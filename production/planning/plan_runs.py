"""Making and storing plans: quick ones at once, solved ones by the worker."""

import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime
from uuid import UUID, uuid5

from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from production.bench.jobs import open_jobs
from production.bench.piece_now import habits
from production.planning.inputs import (
    PlanInputs,
    latest_run,
    newest_event,
    plan_from_rows,
    plan_inputs,
    plan_rows,
    plan_state,
)
from production.planning.solver.model import MOVABLE, Pin, Plan
from production.planning.solver.model import Job as SolverJob
from production.planning.solver.planner import plan_quickly, plan_solved
from production.schedule import week
from production.schedule.models import PlanRun, PlanStep
from production.stores.outlooks import store_outlooks
from studio.accounts.actions import lock_unit
from studio.accounts.models import Unit, User
from studio.jobs.models import Job
from studio.work.models import Work
from studio.work.queue import ReportProgress, WorkResult, begin_work, periodic, work_kind

PLAN = "plan"

RUNS_KEPT = 10

_KEY = UUID("f0a0d1c2-4e55-4b1d-8a57-2f3f5d9f7c11")


def quick_plan(found: PlanInputs) -> Plan:
    """Make a plan at once that stays close to the stored one. Two queries and some milliseconds."""
    previous = plan_from_rows(latest_run(found.unit), found.keys)
    return plan_quickly(found.jobs, found.bench, found.today, previous)


def make_plan(unit: Unit, now: datetime, *, how: PlanRun.How) -> PlanRun:
    """Make and store a plan of the unit's bench. The solver runs outside the transaction."""
    began = time.monotonic()
    event, state = newest_event(unit), plan_state(unit, timezone.localdate(now))
    found = plan_inputs(unit, now)
    before = latest_run(unit)
    previous = plan_from_rows(before, found.keys)
    planned = plan_solved if how == PlanRun.How.SOLVED else plan_quickly
    made = planned(found.jobs, found.bench, found.today, previous)
    return _keep(found, made, before, (event, state), now, time.monotonic() - began)


def keep_planned(unit: Unit, now: datetime) -> None:
    """Plan again each job whose last events have left it with no stored day, or an impossible one, for a step.

    All other steps keep their days: only `make_plan` moves them. Two queries if there is no new event, ten more to
    look at the jobs, thirty and some milliseconds more to plan any again. Holds the unit only while it writes.
    """
    run, event = latest_run(unit), newest_event(unit)
    if run is None:
        if unit.jobs.open().exists():
            make_plan(unit, now, how=PlanRun.How.QUICK)
        return
    if run.last_event >= event:
        return
    changed = unit.jobs.filter(events__pk__gt=run.last_event).distinct()
    rules, today = habits(unit), timezone.localdate(now)
    missing = [
        each.job
        for each in open_jobs(unit, now, among=changed)
        if not week.is_covered(each.facts, rules, today)
    ]
    with transaction.atomic():
        lock_unit(unit)
        newest = latest_run(unit) or run  # the worker may have planned in the meantime
        if missing:
            _plan_again(newest, missing, now)
        PlanRun.objects.filter(pk=newest.pk, last_event__lt=event).update(last_event=event)


@transaction.atomic
def request_plan(unit: Unit, *, by: User | None, at: datetime, key: UUID) -> Work:
    """Queue a solved plan for the worker; while one is queued or running, return that one.

    Changes in the meantime are planned later, see `plan_what_changed`.
    """
    lock_unit(unit)  # two presses at once are one plan
    if going_on := unit.works.of_kind(PLAN).unfinished().first():
        return going_on
    return begin_work(unit, PLAN, title="The plan of your bench", facts={}, by=by, at=at, key=key)


def state_to_plan(unit: Unit, now: datetime) -> str:
    """Return the state (see `plan_state`) that has no solved plan yet; "" if the stored plan is up to date."""
    state = plan_state(unit, timezone.localdate(now))
    run = latest_run(unit)
    if run and run.state == state and run.how == PlanRun.How.SOLVED:
        return ""
    return state if run or unit.jobs.open().exists() else ""


@work_kind(PLAN)
def plan_bench(work: Work, tell: ReportProgress) -> WorkResult:
    """Make and store a solved plan. Running it twice is harmless: the second plan stays close to the first."""
    tell(0, 1)
    now = timezone.now()
    run = make_plan(work.unit, now, how=PlanRun.How.SOLVED)
    keep_planned(work.unit, timezone.now())  # what happened while the solver was at it
    store_outlooks(work.unit, timezone.localdate(now))  # the work ahead takes other materials now
    late = f"{run.late_days} day{'' if run.late_days == 1 else 's'} late in all"
    best = "; nothing better is possible" if run.is_proven else ""
    return WorkResult(
        f"Planned: {late if run.late_days else 'every promise kept'}{best}.",
        url=reverse("production:plan"),
    )


@periodic
def plan_what_changed(now: datetime) -> Iterator[Work]:
    """Queue a plan for each unit in which something has changed since its last one."""
    waiting = set(Work.objects.unfinished().of_kind(PLAN).values_list("unit", flat=True))
    for unit in Unit.objects.exclude(pk__in=waiting):
        with timezone.override(unit.time_zone):  # a day begins where the unit is
            state = state_to_plan(unit, now)
        if state:
            yield request_plan(unit, by=None, at=now, key=uuid5(_KEY, f"{unit.pk} {state}"))


def _plan_again(run: PlanRun, jobs: Sequence[Job], now: datetime) -> None:
    """Fit the steps of these jobs in between those of all others, which keep their days."""
    found = plan_inputs(run.unit, now)
    before = plan_from_rows(run, found.keys)
    again = {job.reference for job in jobs}
    held = [job if job.key in again else _held(job, before, found.today) for job in found.jobs]
    made = plan_quickly(held, found.bench, found.today, before)
    made = replace(made, jobs=tuple(job for job in made.jobs if job.key in again))
    rows = plan_rows(made, found, run, run.steps.filter(job__in=jobs).exclude(moved_from=None))
    run.steps.filter(job__in=jobs).delete()
    PlanStep.objects.bulk_create(rows)


def _held(job: SolverJob, before: Plan | None, today: date) -> SolverJob:
    """Return the job with its stored steps pinned to their days, from today on."""
    stored = before.job_plan(job.key) if before else None
    pins = (
        Pin(step.kind, step.on, step.piece)
        for step in (stored.steps if stored else ())
        if step.kind in MOVABLE and step.on >= today
    )
    return replace(job, pins=tuple(pins))


@transaction.atomic
def _keep(
    found: PlanInputs,
    made: Plan,
    before: PlanRun | None,
    made_from: tuple[int, str],
    now: datetime,
    took_s: float,
) -> PlanRun:
    run = PlanRun.objects.create(
        unit=found.unit,
        made_at=now,
        today=found.today,
        how=made.method,
        last_event=made_from[0],
        state=made_from[1],
        late_days=made.score.late_days,
        least_late_days=made.bound_late_days,
        is_proven=made.is_proven,
        seconds=round(took_s, 3),
    )
    earlier = before.steps.exclude(moved_from=None) if before else ()
    PlanStep.objects.bulk_create(plan_rows(made, found, run, earlier))
    old = found.unit.plan_runs.order_by("-pk").values_list("pk", flat=True)[RUNS_KEPT:]
    PlanRun.objects.filter(pk__in=list(old)).delete()
    return run
