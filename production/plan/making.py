"""From facts to a plan: quickly, and as well as it goes."""

from collections.abc import Iterable
from datetime import date

from production.plan import quick
from production.plan.draft import Days, Draft
from production.plan.facts import MOVABLE, Bench, Job, Plan
from production.plan.grid import Grid
from production.plan.solve import EFFORT, solve
from production.plan.telling import Telling


def plan_quickly(
    jobs: Iterable[Job], bench: Bench, today: date, previous: Plan | None = None
) -> Plan:
    """A plan at once: about 20 ms for 60 jobs. Its bound is what each job would be late on an empty bench."""
    grid = Grid(jobs, bench, today)
    before = days_of(previous, today)
    tried = quick.draft(grid, before, previous.score.late_days if previous else 0)
    return told(grid, tried.draft, before, "quick", _alone_late_days(grid))


def plan_solved(
    jobs: Iterable[Job],
    bench: Bench,
    today: date,
    previous: Plan | None = None,
    effort: float = EFFORT,
) -> Plan:
    """The best plan found, never worse than the quick one, with its bound; for the background.

    `effort` is the solver's own measure, about seconds of one core: the same effort gives the same plan.
    """
    grid = Grid(jobs, bench, today)
    before = days_of(previous, today)
    tried = quick.draft(grid, before, previous.score.late_days if previous else 0)
    solved = solve(grid, tried.draft, before, effort)
    return told(grid, solved.draft, before, "solved", solved.bound_late_days)


def days_of(previous: Plan | None, today: date) -> Days:
    """The plan before in days from today; those gone by are negative."""
    if previous is None:
        return {}
    return {
        (job.key, step.kind, step.piece): (step.on - today).days
        for job in previous.jobs
        for step in job.steps
        if step.kind in MOVABLE or step.kind == "ready"
    }


def told(grid: Grid, made: Draft, before: Days, method: str, bound_late_days: int) -> Plan:
    telling = Telling(grid, made, before)
    score = made.score(grid, before)
    return Plan(
        today=grid.today,
        jobs=tuple(telling.job(task) for task in grid.tasks),
        score=score,
        method="solved" if method == "solved" else "quick",
        bound_late_days=min(bound_late_days, score.late_days),
    )


def _alone_late_days(grid: Grid) -> int:
    """How late the jobs would be if each had the bench to itself: no plan is less late."""
    return sum(grid.alone_late_days(task) * task.job.weight for task in grid.tasks)
