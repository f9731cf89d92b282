"""Diving heuristic for weeks in which no rule of thumb reaches the proven bound.

Bar after bar is fixed as the linear program fills it; after each, the program is solved again for the rest with fresh
patterns. If the remaining bars cannot suffice, the last choice is undone, a limited number of times. Work is counted
instead of time: deterministic.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import floor

from production.frames.cutting.bounds import Knapsack, Task
from production.frames.cutting.column_generation import (
    NEW,
    TOLERANCE,
    Column,
    LinearProgram,
    Pool,
    heaviest_columns,
)

# Limits: linear programs solved in all, choices tried at each.
_PROGRAMS, _CHOICES = 240, 3

_ROUNDS = 60

_SCALE = 100_000


def dive(task: Task, pool: Pool, new_bars: int) -> list[Column] | None:
    """Find a cutting with `new_bars` new bars and add its patterns to `pool`; None if none was found."""
    found = _Dive().complete(task, list(pool.columns), new_bars)
    if found is not None:
        pool.add(found)
    return found


@dataclass(slots=True)
class _Dive:
    """One dive, with the number of linear programs that it may still solve."""

    programs: int = _PROGRAMS

    def complete(self, left: Task, columns: list[Column], new_bars: int) -> list[Column] | None:
        if not any(left.demand):
            return []
        if self.programs <= 0:
            return None
        self.programs -= 1
        program, columns = _solved(left, columns)
        if -program.goal.Value() > new_bars + TOLERANCE:
            return None
        wanted = sorted(program.shares(), key=lambda each: (-each[0], each[1]))
        for share, column in wanted[:_CHOICES]:
            times = max(1, floor(share + TOLERANCE))
            taken = times if column.kind == NEW else 0
            rest = self.complete(_without(left, column, times), columns, new_bars - taken)
            if rest is not None:
                return [column] * times + rest
        return None


def _solved(left: Task, columns: Iterable[Column]) -> tuple[LinearProgram, list[Column]]:
    """Solve the linear program of the fewest new bars for the rest; return it with its patterns."""
    program, known = LinearProgram(left, missing=-2.0), dict.fromkeys(_trimmed(left, columns))
    fresh = list(known)
    for _ in range(_ROUNDS):
        for column in fresh:
            program.add(column, -1.0 if column.kind == NEW else 0.0)
        sack = Knapsack(left, program.prices(_SCALE))
        fresh = [
            each for each in heaviest_columns(left, sack) if each not in known and any(each.runs)
        ]
        if not fresh:
            break
        known.update(dict.fromkeys(fresh))
    return program, list(known)


def _trimmed(left: Task, columns: Iterable[Column]) -> Iterable[Column]:
    """Yield the patterns reduced to the remaining demand, for kinds of bars still available."""
    for column in columns:
        if column.kind != NEW and not left.rack[column.kind].count:
            continue
        room, runs = list(left.demand), []
        for run in column.runs:
            kept = []
            for place, often in run:
                if taken := min(often, room[place]):
                    room[place] -= taken
                    kept.append((place, taken))
            runs.append(tuple(kept))
        if any(runs):
            yield Column(column.kind, tuple(runs))


def _without(left: Task, column: Column, times: int) -> Task:
    demand = list(left.demand)
    for place, often in column.counts().items():
        demand[place] = max(0, demand[place] - times * often)
    rack = list(left.rack)
    if column.kind != NEW:
        rack[column.kind] = replace(rack[column.kind], count=rack[column.kind].count - times)
    return replace(left, demand=tuple(demand), rack=tuple(rack))
