"""The plan as a CP-SAT model.

Every step has a chain of Boolean variables, "done by the n-th day on which it may be done"; the last one is true. The
load of a day is then linear in them, and "before" is an implication. Identical casts of a job are numbered in the
order of their demoulding, so that the solver does not try their permutations.
"""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil

from ortools.sat.python import cp_model

from production.planning.solver.day_grid import NEVER, Cast, Grid, Task
from production.planning.solver.draft import Draft, Load, PreviousDays

# The model may end so many days after the known plan, and pour a lost print so many days later.
SLACK_DAYS = 14

Where = tuple[int, int]

By = cp_model.IntVar | int

Expr = cp_model.LinearExpr | int


@dataclass(slots=True)
class Chain:
    """The days on which a step may be done, and for each the variable "done by that day"; the last is 1."""

    days: Sequence[int]
    by: list[By]

    def place(self, day: int) -> int:
        """Count the chain's days up to and including `day`."""
        return bisect_right(self.days, day)

    def done_by(self, day: int) -> By:
        place = self.place(day)
        return self.by[place - 1] if place else 0

    def done_on(self) -> Iterable[tuple[int, Expr]]:
        before: By = 0
        for day, by in zip(self.days, self.by, strict=True):
            yield day, by - before
            before = by


class Model:
    """The search for the best days of the `free` jobs, within what `load` leaves of the bench.

    `draft` is a known plan of them; it bounds the windows: no better plan has a step outside.
    """

    def __init__(self, grid: Grid, draft: Draft, free: Sequence[Task], load: Load) -> None:
        self.grid = grid
        self.draft = draft
        self.free = [task for task in free if task.frame]
        self.load = load
        self.cp = cp_model.CpModel()
        self.last = min(NEVER - 1, max(draft.frame.values(), default=0) + SLACK_DAYS)
        self.frame: dict[int, Chain] = {}
        self.demould: dict[Where, Chain] = {}
        self.pour: dict[Where, Chain] = {}
        # Per task: groups of identical casts, in the order of their demoulding.
        self.alike: dict[int, list[list[int]]] = {}
        self._setups: dict[tuple[int, tuple[str, str]], cp_model.IntVar] = {}
        self.late = self._build_chains()
        self._add_precedences()
        self._add_day_limits()

    # --- chains -------------------------------------------------------------------------------

    def _build_chains(self) -> Expr:
        grid, spare = self.grid, sum(self._spare(task) for task in self.free)
        late: list[Expr] = [0]
        for task in self.free:
            alone = grid.alone_late_days(task)
            chain = self._chain(self._frame_days(task, alone + spare // task.job.weight))
            self.frame[task.index] = chain
            costs = [
                grid.late_days(task, grid.home(task, day)) * task.job.weight for day in chain.days
            ]
            late.append(_cost_of_day(chain, costs))
            self._cast_chains(task, chain.days[-1])
        return cp_model.LinearExpr.sum(late)

    def _spare(self, task: Task) -> int:
        """Weighted days by which the job is later than on an empty bench."""
        late_days = self.grid.late_days(task, self.draft.home(self.grid, task))
        return (late_days - self.grid.alone_late_days(task)) * task.job.weight

    def _frame_days(self, task: Task, allowed_late_days: int) -> list[int]:
        if task.frame_pinned:
            return [task.frame_from]
        grid, until = self.grid, min(self.last, task.frame_until)
        first = grid.earliest_frame(task)
        days = [first]
        for day in range(first + 1, until + 1):
            if grid.open[day]:
                if grid.late_days(task, grid.home(task, day)) > allowed_late_days:
                    break
                days.append(day)
        return days

    def _cast_chains(self, task: Task, framed_by: int) -> None:
        groups: dict[tuple[object, ...], list[int]] = defaultdict(list)
        for number, cast in enumerate(task.casts):
            if not cast.demould:
                continue
            where = (task.index, number)
            if cast.pour:
                self.pour[where] = self._chain(self._pour_days(cast, where))
            first = cast.demould_from
            if cast.pour:
                first = max(first, self.pour[where].days[0] + self.grid.bench.mould_days)
            until = min(cast.demould_until, framed_by - (0 if task.frame_pinned else cast.dry))
            self.demould[where] = self._chain(self._open_days(first, until, cast.demould_pinned))
            groups[cast.pour, cast.demould, cast.dry, cast.pour_by, cast.pour_pinned].append(number)
        self.alike[task.index] = list(groups.values())

    def _pour_days(self, cast: Cast, where: Where) -> list[int]:
        first = cast.pour[0] if cast.pour else 0
        if cast.pour_pinned:
            return [first]
        until = max(min(cast.pour_by, cast.pour_until), self.draft.pour[where])
        if self.draft.pour[where] > cast.pour_by:
            until = min(until + SLACK_DAYS, cast.pour_until, self.last)
        return self._open_days(first, until, False)

    def _open_days(self, first: int, until: int, pinned: bool) -> list[int]:
        if pinned:
            return [first]
        days = [day for day in range(first, until + 1) if self.grid.open[day]]
        return days or [self.grid.next_open(first)]

    def _chain(self, days: list[int]) -> Chain:
        by: list[By] = [self.cp.new_bool_var("") for _ in days[:-1]]
        by.append(1)
        for earlier, later in pairwise(by):
            if not isinstance(later, int):
                self.cp.add_implication(earlier, later)
        return Chain(days, by)

    # --- what must be before what ---------------------------------------------------------------

    def _add_precedences(self) -> None:
        for index, groups in self.alike.items():
            task = self.grid.tasks[index]
            for numbers in groups:
                self._demould_after_pouring(index, numbers)
                for first, second in pairwise(numbers):
                    self._require_order(self.demould[index, second], self.demould[index, first], 0)
                dry = 1 if task.frame_pinned else task.casts[numbers[-1]].dry
                self._require_order(self.frame[index], self.demould[index, numbers[-1]], dry)

    def _demould_after_pouring(self, index: int, numbers: list[int]) -> None:
        """Allow, by each day, no more of these casts to be demoulded than have set by then."""
        pours = [self.pour[index, number] for number in numbers if (index, number) in self.pour]
        if not pours:
            return
        set_days = self.grid.bench.mould_days
        for day in self.demould[index, numbers[0]].days:
            out = [self.demould[index, number].done_by(day) for number in numbers]
            poured = [chain.done_by(day - set_days) for chain in pours]
            if not all(_is(by, 1) for by in poured):
                self.cp.add(cp_model.LinearExpr.sum(out) <= cp_model.LinearExpr.sum(poured))

    def _require_order(self, later: Chain, earlier: Chain, days: int) -> None:
        for day, by in zip(later.days, later.by, strict=True):
            done = earlier.done_by(day - days)
            if not _is(done, 1):
                self.cp.add(done >= by)

    # --- what a day holds -----------------------------------------------------------------------

    def _add_day_limits(self) -> None:
        pinned = Load(self.grid)
        for task in self.free:
            pinned.add_pins(task)
        minutes = self._framing_minutes(pinned)
        for chain in self.demould.values():
            for day, done in chain.done_on():
                minutes[day].append(self.grid.bench.demould_minutes * done)
        for day, bucketfuls in self._bucketfuls(pinned).items():
            minutes[day].append(bucketfuls * self.grid.bench.pour_minutes)
        for day, parts in minutes.items():
            self._limit_day(parts, self.load.left[day], pinned.left[day])
        self._add_rack_limits()

    def _limit_day(self, parts: Sequence[Expr], left: int, left_by_pins: int) -> None:
        """Limit a day to the minutes left; pinned steps may exceed them, then nothing else fits."""
        self.cp.add(cp_model.LinearExpr.sum(list(parts)) <= max(left, 0) - min(left_by_pins, 0))

    def _framing_minutes(self, pinned: Load) -> dict[int, list[Expr]]:
        """Expressions for the minutes of framing by day, set-ups included."""
        batches: dict[tuple[int, tuple[str, str]], list[Expr]] = defaultdict(list)
        for index, chain in self.frame.items():
            task = self.grid.tasks[index]
            for day, done in chain.done_on():
                batches[day, task.job.batch].append(task.minutes * done)
                if not self.load.batches[day, task.job.batch]:
                    self.cp.add(self._setup(day, task.job.batch) >= done)
        minutes: dict[int, list[Expr]] = defaultdict(list)
        for (day, batch), parts in batches.items():
            minutes[day] += parts
            if (day, batch) in self._setups:
                minutes[day].append(self._setup_minutes(day, batch, parts, pinned))
        for day, parts in minutes.items():
            self._limit_day(parts, self.load.framing_left[day], pinned.framing_left[day])
        return minutes

    def _setup_minutes(
        self, day: int, batch: tuple[str, str], parts: Sequence[Expr], pinned: Load
    ) -> Expr:
        setup, minutes = self._setup(day, batch), self.grid.bench.setup_minutes
        # Implied by the limit of the day, but it tightens the linear relaxation.
        allowed = max(self.load.framing_left[day], 0) - min(pinned.framing_left[day], 0) - minutes
        self.cp.add(cp_model.LinearExpr.sum(list(parts)) <= max(allowed, 0) * setup)
        return minutes * setup

    def _setup(self, day: int, batch: tuple[str, str]) -> cp_model.IntVar:
        if (day, batch) not in self._setups:
            self._setups[day, batch] = self.cp.new_bool_var("")
        return self._setups[day, batch]

    def _bucketfuls(self, pinned: Load) -> dict[int, Expr]:
        """Expression for the additional buckets of each day."""
        grid, bench = self.grid, self.grid.bench
        moulds: dict[int, list[Expr]] = defaultdict(list)
        slurry: dict[int, list[Expr]] = defaultdict(list)
        for where, chain in self.pour.items():
            # Tenths of a millilitre: the solver counts in whole numbers.
            tenths = ceil(10 * grid.volume_ml(grid.tasks[where[0]].casts[where[1]]))
            for day, done in chain.done_on():
                moulds[day].append(done)
                slurry[day].append(tenths * done)
        bucketfuls: dict[int, Expr] = {}
        for day, casts in moulds.items():
            by_pins = grid.bucketfuls(pinned.moulds[day], pinned.slurry_ml[day])
            taken, taken_ml = self.load.moulds[day], self.load.slurry_ml[day]
            before = grid.bucketfuls(taken, taken_ml)
            number = self.cp.new_int_var(0, max(bench.pours_per_day, before + by_pins), "")
            self.cp.add(cp_model.LinearExpr.sum([taken, *casts]) <= bench.moulds_per_pour * number)
            stirred = cp_model.LinearExpr.sum([ceil(10 * taken_ml), *slurry[day]])
            self.cp.add(stirred <= int(10 * bench.bucket_ml) * number)
            self.cp.add(number >= before)
            bucketfuls[day] = number - before
        return bucketfuls

    def _add_rack_limits(self) -> None:
        coming: dict[int, list[Chain]] = defaultdict(list)
        for (index, _number), chain in self.demould.items():
            coming[index].append(chain)
        for day in sorted({day for chain in self.demould.values() for day in chain.days}):
            parts: list[Expr] = [self.load.rack[day]]
            most = self.load.rack[day]
            for index, chain in self.frame.items():
                places_taken = self.grid.tasks[index].places_taken
                out = [cast.done_by(day) for cast in coming[index]]
                parts += [*out, (places_taken + len(out)) * -chain.done_by(day)]
                if not _is(chain.done_by(day), 1):
                    most += sum(not _is(by, 0) for by in out)
            if most > self.grid.bench.rack_places:
                self.cp.add(cp_model.LinearExpr.sum(parts) <= self.grid.bench.rack_places)

    # --- objectives -----------------------------------------------------------------------------

    def lost(self) -> Expr:
        """Number of prints poured after the last day of their clay."""
        parts: list[Expr] = [0]
        for (index, number), chain in self.pour.items():
            cast = self.grid.tasks[index].casts[number]
            if chain.days[-1] > cast.pour_by:
                parts.append(1 - chain.done_by(cast.pour_by))
        return cp_model.LinearExpr.sum(parts)

    def length(self) -> Expr:
        """`Score.length` of the free jobs as an expression."""
        parts = [_cost_of_day(chain, list(chain.days)) for chain in self.frame.values()]
        return cp_model.LinearExpr.sum([0, *parts, *self._setups.values()])

    def moves(self, before: PreviousDays) -> Expr:
        """`Score.moves` of the free jobs as an expression; identical casts are interchangeable."""
        parts: list[Expr] = [0]
        for index, chain in self.frame.items():
            day = before.get((self.grid.tasks[index].job.key, "frame", ""))
            parts.append(_moved(chain, day))
        for where, chain in self.pour.items():
            task = self.grid.tasks[where[0]]
            day = before.get((task.job.key, "pour", task.casts[where[1]].piece.key))
            parts.append(_moved(chain, day))
        for index, groups in self.alike.items():
            for numbers in groups:
                parts += self._demould_moves(index, numbers, before)
        return cp_model.LinearExpr.sum(parts)

    def _demould_moves(
        self, index: int, numbers: list[int], before: PreviousDays
    ) -> Iterable[Expr]:
        task = self.grid.tasks[index]
        keys = [(task.job.key, task.casts[number].piece.key) for number in numbers]
        days = sorted(
            before[job, "demould", piece]
            for job, piece in keys
            if (job, "demould", piece) in before
        )
        for number, day in zip(numbers, days, strict=False):
            yield _moved(self.demould[index, number], day)

    # --- in and out -------------------------------------------------------------------------------

    def hint(self, draft: Draft) -> None:
        """Let the solver start from a known plan."""
        for index, chain in self.frame.items():
            self._hint(chain, draft.frame[index])
        for where, chain in self.pour.items():
            self._hint(chain, draft.pour[where])
        for index, groups in self.alike.items():
            for numbers in groups:
                days = sorted(draft.demould[index, number] for number in numbers)
                for number, day in zip(numbers, days, strict=True):
                    self._hint(self.demould[index, number], day)
        batches = {(draft.frame[index], self.grid.tasks[index].job.batch) for index in self.frame}
        for key, setup in self._setups.items():
            self.cp.add_hint(setup, key in batches)

    def _hint(self, chain: Chain, day: int) -> None:
        for on, by in zip(chain.days, chain.by, strict=True):
            if not isinstance(by, int):
                self.cp.add_hint(by, on >= day)

    def solution(self, solver: cp_model.CpSolver) -> Draft:
        """Read the plan that was found; jobs that were not free keep their days."""
        draft = self.draft.copy()
        for index, chain in self.frame.items():
            draft.frame[index] = _solved_day(solver, chain)
        for where, chain in self.pour.items():
            draft.pour[where] = _solved_day(solver, chain)
        for index, groups in self.alike.items():
            for numbers in groups:
                days = sorted(
                    _solved_day(solver, self.demould[index, number]) for number in numbers
                )
                # Casts poured first are demoulded first.
                by_pour = sorted(numbers, key=lambda number: draft.pour.get((index, number), 0))
                for number, day in zip(by_pour, days, strict=True):
                    draft.demould[index, number] = day
        return draft


def _is(by: By, value: int) -> bool:
    return isinstance(by, int) and by == value


def _cost_of_day(chain: Chain, costs: list[int]) -> Expr:
    """Expression for the cost of the day on which the step is done."""
    total: Expr = costs[-1]
    steps = zip(chain.by, costs, costs[1:], strict=False)
    return total + cp_model.LinearExpr.sum(
        [0, *((cost - following) * by for by, cost, following in steps if cost != following)]
    )


def _moved(chain: Chain, day: int | None) -> Expr:
    """Expression: 1 if the step leaves `day`, else 0; 0 without a previous day."""
    if day is None:
        return 0
    return 1 - (chain.done_by(max(day, 0)) - chain.done_by(max(day, 0) - 1))


def _solved_day(solver: cp_model.CpSolver, chain: Chain) -> int:
    for day, by in zip(chain.days, chain.by, strict=True):
        if solver.boolean_value(by) if not isinstance(by, int) else by:
            return day
    return chain.days[-1]
