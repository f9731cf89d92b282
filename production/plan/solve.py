"""The best plan: first as few late days as can be, then as few moves, then early and in batches.

Three rounds. Each late job is freed together with the jobs that stand where it could stand, while all others stay;
the few are solved to the end (`_mended`). Then the jobs are solved in blocks as if no other block were there: the sum of
what they are late is proven to be the least (`_bound`), and where one block holds all jobs its plan is
the best. Last, block after block is moved as little and ended as early as no lateness allows (`_settled`).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from production.plan.draft import Days, Draft, Load
from production.plan.grid import Grid, Task
from production.plan.model import Model

# One worker, one seed and the solver's own measure of effort: the same facts give the same plan.
SEED = 20_261
EFFORT = 0.33
# A unit of effort is some seconds of one core. On a machine that needs more than a minute for it the clock counts
# instead, so that all rounds together end within 20 s or so.
MOST_SECONDS_PER_EFFORT = 60.0

NEIGHBOURS = (10, 18, 30)
MOST_A_MENDING = 0.03
BLOCK_JOBS = 60
FEW_JOBS = 30
_SHARES = {"mend": 0.4, "prove": 0.45, "settle": 0.15}


@dataclass(frozen=True, slots=True)
class Solved:
    draft: Draft
    bound_late_days: int


@dataclass(slots=True)
class _Purse:
    """The effort left for one round."""

    left: float
    solver: cp_model.CpSolver = field(default_factory=cp_model.CpSolver)

    def solve(self, model: Model, most: float) -> bool:
        """Whether a plan was found within the effort."""
        effort = min(most, self.left)
        if effort <= 0:
            return False
        self.solver = cp_model.CpSolver()
        parameters = self.solver.parameters
        parameters.num_workers = 1
        # Few jobs are proven best by the relaxation alone, many by several strategies in turn.
        parameters.interleave_search = len(model.free) > FEW_JOBS
        parameters.linearization_level = 2
        parameters.random_seed = SEED
        parameters.max_deterministic_time = effort
        parameters.max_time_in_seconds = effort * MOST_SECONDS_PER_EFFORT
        status = self.solver.solve(model.cp)
        by_clock = self.solver.wall_time / MOST_SECONDS_PER_EFFORT
        self.left -= max(self.solver.deterministic_time, by_clock, 1e-4)
        return status in {cp_model.OPTIMAL, cp_model.FEASIBLE}


def solve(grid: Grid, quick: Draft, before: Days, effort: float = EFFORT) -> Solved:
    """A draft no worse than `quick`, and the late days that no plan is below."""
    made = quick
    if not quick.score(grid, before).broken:
        made = _mended(grid, made, before, _Purse(effort * _SHARES["mend"]))
    made, bound = _bound(grid, made, before, _Purse(effort * _SHARES["prove"]))
    if not quick.score(grid, before).broken:
        made = _settled(grid, made, before, _Purse(effort * _SHARES["settle"]))
    return Solved(made, bound)


# --- fewer late days --------------------------------------------------------------------------


def _mended(grid: Grid, made: Draft, before: Days, purse: _Purse) -> Draft:
    for size in NEIGHBOURS:
        tried: set[int] = set()
        while purse.left > 0 and (task := _worst(grid, made, tried)) is not None:
            tried.add(task.index)
            free = _neighbours(grid, made, task, size)
            better = _less_late(grid, made, before, free, purse)
            if better is not None:
                made = better
                tried.clear()
    return made


def _worst(grid: Grid, made: Draft, tried: set[int]) -> Task | None:
    """The job that is later than on an empty bench by most, of those not yet tried."""
    waiting = [
        (_needless(grid, made, task), -task.index) for task in grid.tasks if task.index not in tried
    ]
    needless, index = max(waiting, default=(0, 0))
    return grid.tasks[-index] if needless > 0 else None


def _needless(grid: Grid, made: Draft, task: Task) -> int:
    late_days = grid.late_days(task, made.home(grid, task)) - grid.alone_late_days(task)
    lost = sum(
        made.pour[task.index, number] > cast.pour_by
        for number, cast in enumerate(task.casts)
        if cast.pour
    )
    return late_days * task.job.weight + lost


def _neighbours(grid: Grid, made: Draft, task: Task, size: int) -> list[Task]:
    """The jobs framed where it could be framed, the nearest first; and itself."""
    if not task.frame:
        return [task]
    first, last = grid.earliest_frame(task), made.frame[task.index]

    def far(other: Task) -> tuple[int, int]:
        framed = made.frame[other.index]
        return (max(first - framed, 0, framed - last), abs(framed - last))

    others = sorted((each for each in grid.tasks if each.frame), key=far)
    return [task, *(other for other in others if other is not task)][:size]


def _less_late(
    grid: Grid, made: Draft, before: Days, free: Sequence[Task], purse: _Purse
) -> Draft | None:
    model = Model(grid, made, free, _load_without(grid, made, free))
    model.hint(made)
    _minimise_lateness(model)
    if not purse.solve(model, most=MOST_A_MENDING):
        return None
    found = model.found(purse.solver)
    return found if found.score(grid, before) < made.score(grid, before) else None


def _minimise_lateness(model: Model) -> int:
    """A lost print is a new sitting: no lateness outweighs it. The answer is what one counts."""
    print_days = 1 + sum(
        model.grid.late_days(task, model.made.home(model.grid, task)) * task.job.weight
        for task in model.free
    )
    model.cp.minimize(model.lost() * print_days + model.late)
    return print_days


def _load_without(grid: Grid, made: Draft, free: Sequence[Task]) -> Load:
    """What all other jobs take."""
    load, indices = Load(grid), {task.index for task in free}
    for task in grid.tasks:
        if task.index not in indices:
            load.take(task, made)
    return load


# --- how few there can be ----------------------------------------------------------------------


def _bound(grid: Grid, made: Draft, before: Days, purse: _Purse) -> tuple[Draft, int]:
    """Late days that no plan is below, and the better plan where the proof found one."""
    bound, best = 0, made
    blocks = list(_blocks(grid, made))
    share = purse.left / max(len(blocks), 1)
    for block in blocks:
        alone = sum(grid.alone_late_days(task) * task.job.weight for task in block)
        if not sum(_needless(grid, made, task) for task in block):
            bound += alone
            continue
        empty = _empty(grid, block)
        model = Model(grid, made, block, empty)
        model.hint(made)
        print_days = _minimise_lateness(model)
        if not purse.solve(model, most=share):
            bound += alone
            continue
        bound += max(alone, _late_days_bound(purse.solver, print_days))
        found = model.found(purse.solver)
        if len(blocks) == 1 and found.score(grid, before) < best.score(grid, before):
            best = found
    framed = sum(
        grid.alone_late_days(task) * task.job.weight for task in grid.tasks if not task.frame
    )
    return best, bound + framed


def _late_days_bound(solver: cp_model.CpSolver, print_days: int) -> int:
    """Of a bound on lost prints and late days together: the late days beside the fewest lost prints."""
    return round(solver.best_objective_bound) % print_days


def _empty(grid: Grid, block: Sequence[Task]) -> Load:
    """A bench on which only these jobs are."""
    load = Load(grid)
    lying = sum(task.lying for task in block)
    load.rack = [lying] * len(load.rack)
    return load


def _blocks(grid: Grid, made: Draft) -> Iterator[list[Task]]:
    """The jobs in the order of their framing, so many at a time."""
    tasks = sorted(
        (task for task in grid.tasks if task.frame),
        key=lambda task: (made.frame[task.index], task.index),
    )
    count = -(-len(tasks) // BLOCK_JOBS)
    for number in range(count):
        yield tasks[number * len(tasks) // count : (number + 1) * len(tasks) // count]


# --- fewer moves, earlier -----------------------------------------------------------------------


def _settled(grid: Grid, made: Draft, before: Days, purse: _Purse) -> Draft:
    blocks = list(_blocks(grid, made))
    share = purse.left / max(len(blocks), 1)
    for block in blocks:
        model = Model(grid, made, block, _load_without(grid, made, block))
        model.hint(made)
        score = made.score(grid, before)
        late = sum(grid.late_days(task, made.home(grid, task)) * task.job.weight for task in block)
        lost = sum(
            made.pour[task.index, number] > cast.pour_by
            for task in block
            for number, cast in enumerate(task.casts)
            if cast.pour
        )
        model.cp.add(model.late <= late)
        model.cp.add(model.lost() <= lost)
        model.cp.minimize(model.moves(before) * (score.length + 1) + model.length())
        if purse.solve(model, most=share):
            found = model.found(purse.solver)
            if found.score(grid, before) < score:
                made = found
    return made
