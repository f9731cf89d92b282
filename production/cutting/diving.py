"""Where no rule of thumb reaches the bound: bar after bar is fixed as the linear program fills it.

After each the program is solved anew for what is left, with fresh patterns. Where it says that the
bars left cannot do, the last choice is taken back: a dive with a limited number of returns. Work is
counted instead of time: the same week gives the same cutting.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import floor

from production.cutting.columns import A_TRIFLE, NEW, Column, Pool, Program, fullest
from production.cutting.weighing import Knapsack, Task

# So many programs are solved, so many choices are tried at each.
_PROGRAMS, _CHOICES = 240, 3
_ROUNDS = 60
_SCALE = 100_000


def dive(task: Task, pool: Pool, new_bars: int) -> list[Column] | None:
    """A cutting with so many new bars, its bars in `pool`; None where none was found."""
    found = _Dive().of(task, list(pool.columns), new_bars)
    if found is not None:
        pool.add(found)
    return found


@dataclass(slots=True)
class _Dive:
    programs: int = _PROGRAMS

    def of(self, left: Task, columns: list[Column], new_bars: int) -> list[Column] | None:
        if not any(left.demand):
            return []
        if self.programs <= 0:
            return None
        self.programs -= 1
        program, columns = _solved(left, columns)
        if -program.goal.Value() > new_bars + A_TRIFLE:
            return None
        wanted = sorted(program.shares(), key=lambda each: (-each[0], each[1]))
        for share, column in wanted[:_CHOICES]:
            times = max(1, floor(share + A_TRIFLE))
            taken = times if column.kind == NEW else 0
            rest = self.of(_without(left, column, times), columns, new_bars - taken)
            if rest is not None:
                return [column] * times + rest
        return None


def _solved(left: Task, columns: Iterable[Column]) -> tuple[Program, list[Column]]:
    """The program of the fewest new bars for what is left, and the patterns it was given."""
    program, known = Program(left, missing=-2.0), dict.fromkeys(_trimmed(left, columns))
    fresh = list(known)
    for _ in range(_ROUNDS):
        for column in fresh:
            program.add(column, -1.0 if column.kind == NEW else 0.0)
        sack = Knapsack(left, program.prices(_SCALE))
        fresh = [each for each in fullest(left, sack) if each not in known and any(each.runs)]
        if not fresh:
            break
        known.update(dict.fromkeys(fresh))
    return program, list(known)


def _trimmed(left: Task, columns: Iterable[Column]) -> Iterable[Column]:
    """The patterns without what is cut already; those of kinds that still lie there."""
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
