"""Cutting plans by column generation (Gilmore & Gomory, 1961), with no size more often in a pattern than demanded.

A linear program prices the rails, a knapsack finds the pattern that helps most, until none does; SCIP then chooses
whole numbers of the patterns found. One thread, and work limited by nodes instead of time: deterministic. Every
bound is recomputed in whole numbers.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from ortools.linear_solver import pywraplp

from production.frames.cutting.bar_plan import Proof
from production.frames.cutting.bounds import Kind, Knapsack, Task, prove_bound
from production.frames.cutting.packing import Filled

NEW = -1

_ROUNDS = 300

# Scale at which dual prices become whole numbers …
_SCALE = 100_000

# … and for the second goal: thousandths of a millimetre.
_THOUSANDTHS = 1000

TOLERANCE = 1e-6

# Nodes of the search, not seconds: the same answer on every machine.
_NODES = 20


class Column(NamedTuple):
    """Pattern of one bar: its kind (`NEW` or the index in `Task.rack`), and per run (size index, count) pairs."""

    kind: int
    runs: tuple[tuple[tuple[int, int], ...], ...]

    def counts(self) -> dict[int, int]:
        found: dict[int, int] = {}
        for run in self.runs:
            for place, often in run:
                found[place] = found.get(place, 0) + often
        return found

    def worth(self, task: Task) -> int:
        """Useful length that stays of this bar, in mm (see `Task.worth`)."""
        taken = [sum(task.sizes[place] * often for place, often in run) for run in self.runs]
        capacities = kind_of(task, self.kind).capacities
        return sum(task.worth(*each) for each in zip(capacities, taken, strict=True))


@dataclass(slots=True)
class Pool:
    """The patterns found so far, in order."""

    columns: dict[Column, None] = field(default_factory=dict)

    def add(self, columns: Iterable[Column]) -> list[Column]:
        fresh = [each for each in dict.fromkeys(columns) if each not in self.columns]
        self.columns.update(dict.fromkeys(fresh))
        return fresh

    def add_filled(self, task: Task, bars: Iterable[Filled]) -> list[Column]:
        """Add the bars of a rule of thumb as patterns; return them."""
        rack = {id(kind): place for place, kind in enumerate(task.rack)}
        columns = [
            Column(
                NEW if bar.is_new else rack[id(bar.kind)],
                tuple(tuple(sorted(run.items())) for run in bar.runs),
            )
            for bar in bars
        ]
        self.add(columns)
        return columns


def kind_of(task: Task, kind: int) -> Kind:
    return task.new if kind == NEW else task.rack[kind]


def count_new_bars(columns: Iterable[Column]) -> int:
    return sum(column.kind == NEW for column in columns)


def offcut_gain(task: Task, column: Column) -> int:
    """Useful length gained by cutting this bar, in mm: against the untouched offcut, or against no bar if new."""
    untouched = 0 if column.kind == NEW else _empty_worth(task, task.rack[column.kind])
    return column.worth(task) - untouched


def generate_fewest_bars(task: Task, pool: Pool, proof: Proof) -> Proof:
    """Generate patterns for the fewest new bars into `pool`; return the best proof that their prices give."""
    program = LinearProgram(task, missing=-2.0)
    fresh = list(pool.columns)
    for _ in range(_ROUNDS):
        for column in fresh:
            program.add(column, -1.0 if column.kind == NEW else 0.0)
        prices = program.prices(_SCALE)
        proof = max(proof, prove_bound(task, prices), key=lambda each: each.least)
        sack = Knapsack(task, prices)
        fresh = pool.add(heaviest_columns(task, sack))
        if not fresh:
            break
    return proof


def generate_most_useful(task: Task, pool: Pool, new_bars: int) -> int:
    """Add to `pool` the patterns that leave the most useful offcuts with `new_bars` new bars.

    Returns an upper bound of the worth of what is left over, in mm (see `BarPlan.useful_mm`).
    """
    untouched = sum(_empty_worth(task, kind) * kind.count for kind in task.rack)
    missing = -3.0 * (new_bars + len(task.rack) + 1) * task.widest
    program = LinearProgram(task, missing=missing, new_bars=new_bars)
    fresh, bound = list(pool.columns), None
    for _ in range(_ROUNDS):
        for column in fresh:
            program.add(column, offcut_gain(task, column))
        prices = program.prices(_THOUSANDTHS)
        sack = Knapsack(task, prices)
        ideal = untouched * _THOUSANDTHS
        ideal -= sum(price * often for price, often in zip(prices, task.demand, strict=True))
        found = []
        for place in (NEW, *range(len(task.rack))):
            column, most = _best_column(task, sack, place)
            count = new_bars if place == NEW else task.rack[place].count
            spared = 0 if place == NEW else _empty_worth(task, task.rack[place])
            ideal += count * max(0, most - spared * _THOUSANDTHS)
            found.append(column)
        bound = ideal if bound is None else min(bound, ideal)
        fresh = pool.add(found)
        if not fresh:
            break
    return (bound or 0) // _THOUSANDTHS


def choose_columns(task: Task, pool: Pool, known: list[Column], new_bars: int) -> list[Column]:
    """Choose bars from the pool that leave the most useful offcuts; never worse than `known`.

    They may make a size more often than demanded.
    """
    solver, often = _integer_program(task, pool, new_bars)
    goal = solver.Objective()
    goal.SetMaximization()
    for column, variable in often.items():
        goal.SetCoefficient(variable, float(offcut_gain(task, column)))
    used = Counter(known)
    solver.SetHint(list(often.values()), [float(used[column]) for column in often])
    found = _solved_columns(solver, often) or known
    return max(known, found, key=lambda columns: sum(offcut_gain(task, each) for each in columns))


def _integer_program(
    task: Task, pool: Pool, new_bars: int
) -> tuple[pywraplp.Solver, dict[Column, pywraplp.Variable]]:
    """The integer program over the pool, without an objective, and its variables by pattern."""
    solver = pywraplp.Solver.CreateSolver("SCIP")
    solver.SetSolverSpecificParametersAsString(f"limits/nodes = {_NODES}")
    infinity = solver.infinity()
    made = [solver.Constraint(float(often), infinity) for often in task.demand]
    limits = {NEW: solver.Constraint(-infinity, float(new_bars))}
    for place, kind in enumerate(task.rack):
        limits[place] = solver.Constraint(-infinity, float(kind.count))
    variables = {}
    for column in pool.columns:
        variable = variables[column] = solver.IntVar(0.0, infinity, "")
        limits[column.kind].SetCoefficient(variable, 1.0)
        for size, count in column.counts().items():
            made[size].SetCoefficient(variable, float(count))
    return solver, variables


def _solved_columns(
    solver: pywraplp.Solver, often: dict[Column, pywraplp.Variable]
) -> list[Column] | None:
    if solver.Solve() not in (pywraplp.Solver.OPTIMAL, pywraplp.Solver.FEASIBLE):
        return None
    return [
        column
        for column, variable in often.items()
        for _ in range(round(variable.solution_value()))
    ]


class LinearProgram:
    """Linear program of one goal; patterns are added as they are found."""

    def __init__(self, task: Task, *, missing: float, new_bars: int | None = None) -> None:
        self.often: dict[Column, pywraplp.Variable] = {}
        self.solver = pywraplp.Solver.CreateSolver("GLOP")
        infinity = self.solver.infinity()
        self.goal = self.solver.Objective()
        self.goal.SetMaximization()
        self.asked = [self.solver.Constraint(float(often), infinity) for often in task.demand]
        self.on_rack = [self.solver.Constraint(-infinity, float(k.count)) for k in task.rack]
        self.new = self.solver.Constraint(-infinity, infinity if new_bars is None else new_bars)
        # A rail left uncut costs more than any cutting, so that there is always a solution.
        for row in self.asked:
            variable = self.solver.NumVar(0, infinity, "")
            row.SetCoefficient(variable, 1.0)
            self.goal.SetCoefficient(variable, missing)

    def add(self, column: Column, value: float) -> None:
        variable = self.often[column] = self.solver.NumVar(0, self.solver.infinity(), "")
        self.goal.SetCoefficient(variable, value)
        for place, often in column.counts().items():
            self.asked[place].SetCoefficient(variable, float(often))
        (self.new if column.kind == NEW else self.on_rack[column.kind]).SetCoefficient(variable, 1)

    def prices(self, scale: int) -> list[int]:
        """Dual price of one more rail of each size, as whole numbers at this scale."""
        self.solver.Solve()
        return [max(0, round(-row.dual_value() * scale)) for row in self.asked]

    def shares(self) -> list[tuple[float, Column]]:
        """Fractional number of times that each used pattern is cut."""
        found = ((variable.solution_value(), column) for column, variable in self.often.items())
        return [(share, column) for share, column in found if share > TOLERANCE]


def heaviest_columns(task: Task, sack: Knapsack) -> list[Column]:
    """The pattern of the most weight for each kind of bar."""
    return [
        Column(
            place, tuple(_best_run(task, sack, c, None) for c in kind_of(task, place).capacities)
        )
        for place in (NEW, *range(len(task.rack)))
    ]


def _best_column(task: Task, sack: Knapsack, place: int) -> tuple[Column, int]:
    """The pattern with the largest sum of weight and useful length, and that sum."""
    runs, most = [], 0
    for capacity in kind_of(task, place).capacities:
        worths = task.worths(capacity) * _THOUSANDTHS
        runs.append(_best_run(task, sack, capacity, worths))
        most += int((sack.best_at[: capacity + 1] + worths).max())
    return Column(place, tuple(runs)), most


def _best_run(
    task: Task, sack: Knapsack, capacity: int, worths: NDArray[np.int64] | None
) -> tuple[tuple[int, int], ...]:
    goal = sack.best_at[: capacity + 1]
    taken = int(np.argmax(goal if worths is None else goal + worths))
    counts = sack.pattern(task, taken)
    return tuple((place, often) for place, often in enumerate(counts) if often)


def _empty_worth(task: Task, kind: Kind) -> int:
    return sum(task.worth(capacity, 0) for capacity in kind.capacities)
