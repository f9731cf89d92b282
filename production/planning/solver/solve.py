"""The best plan by the constraint solver: fewest late days, then fewest moves, then early and in batches.

Three rounds. `_reduce_lateness` frees each late job together with the jobs on the days that it could use, keeps all
others, and solves these few to optimality. `_prove_bound` solves the jobs in blocks, each as if alone on the bench: the
sum of their late days is a proven lower bound, and if one block holds all jobs its plan is optimal. `_reduce_moves`
then brings each block near the previous plan and ends it early, without more late days.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from production.planning.solver.cp_model import Model
from production.planning.solver.day_grid import Grid, Task
from production.planning.solver.draft import Draft, Load, PreviousDays

# One worker, one seed and deterministic time: the same facts give the same plan.
SEED = 20_261

EFFORT = 0.33

# A unit of effort is some seconds of one core. On a machine that needs more than a minute for it the clock ends the
# search instead, so that all rounds together take about 20 s at most.
MAX_SECONDS_PER_EFFORT = 60.0

NEIGHBOURHOOD_SIZES = (10, 18, 30)

MAX_EFFORT_A_NEIGHBOURHOOD = 0.03

BLOCK_JOBS = 60

FEW_JOBS = 30

_SHARES = {"mend": 0.4, "prove": 0.45, "settle": 0.15}


@dataclass(frozen=True, slots=True)
class Solved:
    draft: Draft
    bound_late_days: int


@dataclass(slots=True)
class _EffortBudget:
    """The effort left for one round of searches."""

    left: float
    solver: cp_model.CpSolver = field(default_factory=cp_model.CpSolver)

    def solve(self, model: Model, most: float) -> bool:
        """Solve the model with at most this effort; return whether a plan was found."""
        effort = min(most, self.left)
        if effort <= 0:
            return False
        self.solver = cp_model.CpSolver()
        parameters = self.solver.parameters
        parameters.num_workers = 1
        # With few jobs the relaxation alone proves the optimum; with many, several strategies in turn do.
        parameters.interleave_search = len(model.free) > FEW_JOBS
        parameters.linearization_level = 2
        parameters.random_seed = SEED
        parameters.max_deterministic_time = effort
        parameters.max_time_in_seconds = effort * MAX_SECONDS_PER_EFFORT
        status = self.solver.solve(model.cp)
        by_clock = self.solver.wall_time / MAX_SECONDS_PER_EFFORT
        self.left -= max(self.solver.deterministic_time, by_clock, 1e-4)
        return status in {cp_model.OPTIMAL, cp_model.FEASIBLE}


def solve(grid: Grid, quick: Draft, before: PreviousDays, effort: float = EFFORT) -> Solved:
    """Improve the draft `quick`; return it with a proven lower bound of the late days."""
    draft = quick
    if not quick.score(grid, before).broken:
        draft = _reduce_lateness(grid, draft, before, _EffortBudget(effort * _SHARES["mend"]))
    draft, bound = _prove_bound(grid, draft, before, _EffortBudget(effort * _SHARES["prove"]))
    if not quick.score(grid, before).broken:
        draft = _reduce_moves(grid, draft, before, _EffortBudget(effort * _SHARES["settle"]))
    return Solved(draft, bound)


def _reduce_lateness(
    grid: Grid, draft: Draft, before: PreviousDays, budget: _EffortBudget
) -> Draft:
    for size in NEIGHBOURHOOD_SIZES:
        tried: set[int] = set()
        while budget.left > 0 and (task := _most_avoidable(grid, draft, tried)) is not None:
            tried.add(task.index)
            free = _neighbourhood(grid, draft, task, size)
            better = _improve(grid, draft, before, free, budget)
            if better is not None:
                draft = better
                tried.clear()
    return draft


def _most_avoidable(grid: Grid, draft: Draft, tried: set[int]) -> Task | None:
    """The job with the most avoidable late days among those not yet tried; None if no job has any."""
    waiting = [
        (_avoidable_late_days(grid, draft, task), -task.index)
        for task in grid.tasks
        if task.index not in tried
    ]
    needless, index = max(waiting, default=(0, 0))
    return grid.tasks[-index] if needless > 0 else None


def _avoidable_late_days(grid: Grid, draft: Draft, task: Task) -> int:
    late_days = grid.late_days(task, draft.home(grid, task)) - grid.alone_late_days(task)
    lost = sum(
        draft.pour[task.index, number] > cast.pour_by
        for number, cast in enumerate(task.casts)
        if cast.pour
    )
    return late_days * task.job.weight + lost


def _neighbourhood(grid: Grid, draft: Draft, task: Task, size: int) -> list[Task]:
    """The task itself and the jobs framed nearest to the days on which it could be framed, at most `size`."""
    if not task.frame:
        return [task]
    first, last = grid.earliest_frame(task), draft.frame[task.index]

    def far(other: Task) -> tuple[int, int]:
        framed = draft.frame[other.index]
        return (max(first - framed, 0, framed - last), abs(framed - last))

    future_sittings = sorted((each for each in grid.tasks if each.frame), key=far)
    return [task, *(other for other in future_sittings if other is not task)][:size]


def _improve(
    grid: Grid, draft: Draft, before: PreviousDays, free: Sequence[Task], budget: _EffortBudget
) -> Draft | None:
    model = Model(grid, draft, free, _load_without(grid, draft, free))
    model.hint(draft)
    _minimise_lateness(model)
    if not budget.solve(model, most=MAX_EFFORT_A_NEIGHBOURHOOD):
        return None
    found = model.solution(budget.solver)
    return found if found.score(grid, before) < draft.score(grid, before) else None


def _minimise_lateness(model: Model) -> int:
    """Minimise lost prints, then late days; return the weight of one lost print, which no lateness outweighs."""
    print_days = 1 + sum(
        model.grid.late_days(task, model.draft.home(model.grid, task)) * task.job.weight
        for task in model.free
    )
    model.cp.minimize(model.lost() * print_days + model.late)
    return print_days


def _load_without(grid: Grid, draft: Draft, free: Sequence[Task]) -> Load:
    """The load of all jobs but the free ones."""
    load, indices = Load(grid), {task.index for task in free}
    for task in grid.tasks:
        if task.index not in indices:
            load.add_job(task, draft)
    return load


def _prove_bound(
    grid: Grid, draft: Draft, before: PreviousDays, budget: _EffortBudget
) -> tuple[Draft, int]:
    """Return the better plan, if the proof found one, and the least late days of any plan."""
    bound, best = 0, draft
    blocks = list(_blocks(grid, draft))
    share = budget.left / max(len(blocks), 1)
    for block in blocks:
        alone = sum(grid.alone_late_days(task) * task.job.weight for task in block)
        if not sum(_avoidable_late_days(grid, draft, task) for task in block):
            bound += alone
            continue
        empty = _load_of_block_alone(grid, block)
        model = Model(grid, draft, block, empty)
        model.hint(draft)
        print_days = _minimise_lateness(model)
        if not budget.solve(model, most=share):
            bound += alone
            continue
        bound += max(alone, _late_days_bound(budget.solver, print_days))
        found = model.solution(budget.solver)
        if len(blocks) == 1 and found.score(grid, before) < best.score(grid, before):
            best = found
    framed = sum(
        grid.alone_late_days(task) * task.job.weight for task in grid.tasks if not task.frame
    )
    return best, bound + framed


def _late_days_bound(solver: cp_model.CpSolver, print_days: int) -> int:
    """Late days in a combined bound of lost prints and late days."""
    return round(solver.best_objective_bound) % print_days


def _load_of_block_alone(grid: Grid, block: Sequence[Task]) -> Load:
    """The load of a bench that holds only the casts of this block."""
    load = Load(grid)
    places_taken = sum(task.places_taken for task in block)
    load.rack = [places_taken] * len(load.rack)
    return load


def _blocks(grid: Grid, draft: Draft) -> Iterator[list[Task]]:
    """Split the jobs, in the order of their framing, into equal blocks of at most `BLOCK_JOBS`."""
    tasks = sorted(
        (task for task in grid.tasks if task.frame),
        key=lambda task: (draft.frame[task.index], task.index),
    )
    count = -(-len(tasks) // BLOCK_JOBS)
    for number in range(count):
        yield tasks[number * len(tasks) // count : (number + 1) * len(tasks) // count]


def _reduce_moves(grid: Grid, draft: Draft, before: PreviousDays, budget: _EffortBudget) -> Draft:
    blocks = list(_blocks(grid, draft))
    share = budget.left / max(len(blocks), 1)
    for block in blocks:
        model = Model(grid, draft, block, _load_without(grid, draft, block))
        model.hint(draft)
        score = draft.score(grid, before)
        late = sum(grid.late_days(task, draft.home(grid, task)) * task.job.weight for task in block)
        lost = sum(
            draft.pour[task.index, number] > cast.pour_by
            for task in block
            for number, cast in enumerate(task.casts)
            if cast.pour
        )
        model.cp.add(model.late <= late)
        model.cp.add(model.lost() <= lost)
        model.cp.minimize(model.moves(before) * (score.length + 1) + model.length())
        if budget.solve(model, most=share):
            found = model.solution(budget.solver)
            if found.score(grid, before) < score:
                draft = found
    return draft
