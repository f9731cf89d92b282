"""The same number of new bars, but an offcut of the rack left whole: tried one offcut after another."""

from dataclasses import replace

import numpy as np

from production.cutting.columns import NEW, Column, Pool, gain
from production.cutting.stock import CannotCut
from production.cutting.weighing import Knapsack, Task

_SPARED = 5


def spare(task: Task, pool: Pool, known: list[Column]) -> list[Column]:
    """The same number of new bars with one offcut of the rack left whole, the longest first.

    Bars of every cutting found join `pool`; the most useful one comes back.
    """
    new_bars = _new_bars(known)
    longest = sorted(range(len(task.rack)), key=lambda at: -max(task.rack[at].capacities))
    for kept in (None, *longest[:_SPARED]):
        made = _one_cutting(task, kept)
        if _new_bars(made) <= new_bars:
            pool.add(made)
            known = max(known, made, key=lambda columns: sum(gain(task, c) for c in columns))
    return known


def _new_bars(columns: list[Column]) -> int:
    return sum(column.kind == NEW for column in columns)


def _one_cutting(task: Task, kept: int | None = None) -> list[Column]:
    """Bar after bar as full as it goes with what is left, the rack's shortest first.

    Raises CannotCut where a rail fits no new bar.
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
            counts = sack.pattern(now, int(np.argmax(sack.exactly[: capacity + 1])))
            left = [a - b for a, b in zip(left, counts, strict=True)]
            runs.append(tuple((size, often) for size, often in enumerate(counts) if often))
        if place == NEW and not any(runs):
            raise CannotCut("A rail is longer than every clear run of a new bar.")
        made.append(Column(place, tuple(runs)))
    return [column for column in made if column.counts()]
