"""Comparison of two plans: moved steps, and the effect of days off."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from production.planning.solver.model import MOVABLE, Bench, Job, Kind, Plan
from production.planning.solver.planner import plan_quickly, plan_solved


@dataclass(frozen=True, slots=True)
class MovedStep:
    """One step moved to another day, and why."""

    key: str
    kind: Kind
    piece: str
    from_on: date
    to_on: date
    why: str


@dataclass(frozen=True, slots=True)
class LaterJob:
    """A job that would be handed over later: `late_days` after its promise, `more_late_days` of them new."""

    key: str
    from_on: date
    to_on: date
    promised_on: date | None
    late_days: int
    more_late_days: int


@dataclass(frozen=True, slots=True)
class WhatIf:
    """The plan with the days off, the jobs that would be later (the latest first), and the moved steps.

    `lost_prints`: prints whose clay would be too dry to pour. `keys_without_plan`: jobs that could not be planned.
    """

    days_off: frozenset[date]
    plan: Plan
    later: tuple[LaterJob, ...]
    moved: tuple[MovedStep, ...]
    lost_prints: int
    keys_without_plan: tuple[str, ...]

    @property
    def more_late_days(self) -> int:
        return sum(job.more_late_days for job in self.later)


def what_if(
    jobs: Iterable[Job],
    bench: Bench,
    today: date,
    days_off: Iterable[date],
    previous: Plan | None = None,
    effort: float | None = None,
) -> WhatIf:
    """Plan with additional days off and compare with `previous` (or with the quick plan, without it).

    Milliseconds; with an `effort` the solver plans, which takes longer and finds the least harm.
    """
    jobs = tuple(jobs)
    off = frozenset(days_off)
    before = previous or plan_quickly(jobs, bench, today)
    away = replace(bench, days_off=bench.days_off | off)
    if effort is None:
        plan = plan_quickly(jobs, away, today, before)
    else:
        plan = plan_solved(jobs, away, today, before, effort)
    return WhatIf(
        days_off=off,
        plan=plan,
        later=_later_jobs(before, plan),
        moved=moved_steps(plan),
        lost_prints=plan.score.lost_prints,
        keys_without_plan=tuple(job.key for job in plan.jobs if job.home_on is None),
    )


def moved_steps(plan: Plan) -> tuple[MovedStep, ...]:
    """List the steps that a plan moved against the previous one, the soonest first."""
    moved = [
        MovedStep(job.key, step.kind, step.piece, step.moved_from, step.on, step.moved_why)
        for job in plan.jobs
        for step in job.steps
        if step.moved_from and step.kind in MOVABLE
    ]
    return tuple(sorted(moved, key=lambda each: (each.to_on, each.key, each.kind, each.piece)))


def _later_jobs(before: Plan, after: Plan) -> tuple[LaterJob, ...]:
    found = []
    for job in after.jobs:
        was = before.job_plan(job.key)
        if was is None or was.home_on is None or job.home_on is None:
            continue
        if job.late_days > was.late_days:
            more = job.late_days - was.late_days
            found.append(
                LaterJob(job.key, was.home_on, job.home_on, job.promised_on, job.late_days, more)
            )
    return tuple(sorted(found, key=lambda job: (-job.late_days, job.key)))
