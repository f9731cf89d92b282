"""Entry points of planning: a plan at once, or the best plan that the solver finds."""

from collections.abc import Iterable
from datetime import date

from production.planning.solver import greedy
from production.planning.solver.build_plan import PlanBuilder
from production.planning.solver.day_grid import Grid
from production.planning.solver.draft import Draft, PreviousDays
from production.planning.solver.model import MOVABLE, Bench, Job, Method, Plan
from production.planning.solver.solve import EFFORT, solve


def plan_quickly(
    jobs: Iterable[Job], bench: Bench, today: date, previous: Plan | None = None
) -> Plan:
    """Plan all jobs at once, staying near the `previous` plan; about 20 ms for 60 jobs.

    The bound is the sum of the days that each job would be late with the bench to itself.
    """
    grid, before, draft = _quick_draft(jobs, bench, today, previous)
    return build_plan(grid, draft, before, "quick", _late_days_alone(grid))


def plan_solved(
    jobs: Iterable[Job],
    bench: Bench,
    today: date,
    previous: Plan | None = None,
    effort: float = EFFORT,
) -> Plan:
    """Find the best plan, never worse than `plan_quickly`'s, with a proven bound. Takes seconds: for background work.

    `effort` is the solver's deterministic time (one unit: some seconds of one core): the same effort gives the same plan.
    """
    grid, before, draft = _quick_draft(jobs, bench, today, previous)
    solved = solve(grid, draft, before, effort)
    return build_plan(grid, solved.draft, before, "solved", solved.bound_late_days)


def _quick_draft(
    jobs: Iterable[Job], bench: Bench, today: date, previous: Plan | None
) -> tuple[Grid, PreviousDays, Draft]:
    grid = Grid(jobs, bench, today)
    before = previous_days(previous, today)
    tried = greedy.best_draft(grid, before, previous.score.late_days if previous else 0)
    return grid, before, tried.draft


def previous_days(previous: Plan | None, today: date) -> PreviousDays:
    """Express the previous plan in days from today (negative: in the past); empty without one."""
    if previous is None:
        return {}
    return {
        (job.key, step.kind, step.piece): (step.on - today).days
        for job in previous.jobs
        for step in job.steps
        if step.kind in MOVABLE or step.kind == "ready"
    }


def build_plan(
    grid: Grid, draft: Draft, before: PreviousDays, method: Method, bound_late_days: int
) -> Plan:
    """Turn a draft into a plan with reasons and warnings."""
    builder = PlanBuilder(grid, draft, before)
    score = draft.score(grid, before)
    return Plan(
        today=grid.today,
        jobs=tuple(builder.job(task) for task in grid.tasks),
        score=score,
        method=method,
        bound_late_days=min(bound_late_days, score.late_days),
    )


def _late_days_alone(grid: Grid) -> int:
    """Weighted late days if each job had the bench to itself: a lower bound for every plan."""
    return sum(grid.alone_late_days(task) * task.job.weight for task in grid.tasks)
