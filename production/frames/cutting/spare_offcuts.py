"""Greedy cuttings that leave one stored offcut whole without needing more new bars."""

from dataclasses import replace

import numpy as np

from production.frames.cutting.bar_plan import CannotCut
from production.frames.cutting.bounds import Knapsack, Task
from production.frames.cutting.column_generation import (
    NEW,
    Column,
    Pool,
    count_new_bars,
    offcut_gain,
)

_OFFCUTS_TRIED = 5


def spare_offcuts(task: Task, pool: Pool, known: list[Column]) -> list[Column]:
    """Try to leave each of the longest offcuts whole; return the cutting with the most useful offcuts.

    Patterns of every cutting with no more new bars than `known` are added to `pool`.
    """
    new_bars = count_new_bars(known)
    longest = sorted(range(len(task.rack)), key=lambda at: -max(task.rack[at].capacities))
    for kept in (None, *longest[:_OFFCUTS_TRIED]):
        made = _greedy_cutting(task, kept)
        if count_new_bars(made) <= new_bars:
            pool.add(made)
            known = max(known, made, key=lambda columns: sum(offcut_gain(task, c) for c in columns))
    return known


def _greedy_cutting(task: Task, kept: int | None = None) -> list[Column]:
    """Fill bar after bar as full as possible, the shortest offcuts first, without one offcut of the kind `kept`.

    Raises CannotCut if a rail fits no new bar.
    """
    left = list(task.demand)
    bars = [
        place for place, kind in enumerate(task.rack) for _ in range(kind.count - (place == kept))
    ]
    bars.sort(key=lambda place: max(task.rack[place].capacities))
    made = []
    while any(left):
        place = bars.pop(0) if bars else NEW
        capacities = (task.new if place == NEW else task.rack[place]).capacities
        runs = []
        for capacity in capacities:
            now = replace(
                task, demand=tuple(left), new=replace(task.new, capacities=(capacity,)), rack=()
            )
            sack = Knapsack(now, task.sizes)
            counts = sack.pattern(now, int(np.argmax(sack.best_at[: capacity + 1])))
            left = [a - b for a, b in zip(left, counts, strict=True)]
            runs.append(tuple((size, often) for size, often in enumerate(counts) if often))
        if place == NEW and not any(runs):
            raise CannotCut("A rail is longer than every clear run of a new bar.")
        made.append(Column(place, tuple(runs)))
    return [column for column in made if column.counts()]
