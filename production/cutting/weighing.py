"""The knapsack under both goals, and the proofs that come from weighing rails. Whole numbers only.

A weighing gives every rail a weight. If no bar can hold more than V, a week of weight T needs at
least ⌈T / V⌉ bars: the duality behind Martello & Toth's and Fekete & Schepers' bounds, here with V
found exactly, for any weights whatever.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from production.cutting.stock import Proof

Weights = Sequence[int]
NEVER = np.iinfo(np.int64).min // 4


@dataclass(frozen=True, slots=True)
class Kind:
    """So many bars with these clear runs, by the length that rails with their loss may take there."""

    capacities: tuple[int, ...]
    count: int


@dataclass(frozen=True, slots=True)
class Task:
    """Lengths taken (rail + loss, or a matched set), how often each; a new bar, and the rack."""

    sizes: tuple[int, ...]
    demand: tuple[int, ...]
    new: Kind
    rack: tuple[Kind, ...]
    loss_mm: int
    useful_mm: int

    @property
    def widest(self) -> int:
        return max(max(kind.capacities) for kind in (self.new, *self.rack) if kind.capacities)

    def worth(self, capacity: int, taken: int) -> int:
        """By how much the rest of a run is longer than the shortest that is kept, in mm."""
        return max(0, capacity - self.loss_mm - taken - self.useful_mm)

    def worths(self, capacity: int) -> NDArray[np.int64]:
        """`worth` for every length taken, 0 to `capacity`."""
        beyond = capacity - self.loss_mm - self.useful_mm - np.arange(capacity + 1, dtype=np.int64)
        return np.maximum(beyond, 0)


class Knapsack:
    """The best weight for every length taken exactly, each size at most as often as asked for."""

    def __init__(self, task: Task, weights: Weights) -> None:
        best = np.full(task.widest + 1, NEVER, dtype=np.int64)
        best[0] = 0
        self._steps: list[tuple[int, int, NDArray[np.bool_]]] = []
        for place, (size, weight) in enumerate(zip(task.sizes, weights, strict=True)):
            if weight <= 0:
                continue
            for chunk in _chunks(min(task.demand[place], task.widest // size)):
                best = self._offer(best, place, size * chunk, weight * chunk, chunk)
        self.exactly = best
        self.up_to: NDArray[np.int64] = np.maximum.accumulate(best)

    def _offer(
        self, best: NDArray[np.int64], place: int, size: int, weight: int, chunk: int
    ) -> NDArray[np.int64]:
        if size >= len(best):
            return best
        offered = best[:-size] + weight
        took = np.zeros(len(best), dtype=np.bool_)
        took[size:] = offered > best[size:]
        better = best.copy()
        better[size:] = np.maximum(best[size:], offered)
        self._steps.append((place, chunk, took))
        return better

    def pattern(self, task: Task, taken: int) -> list[int]:
        """How often each size is in the best filling that takes exactly `taken`."""
        counts = [0] * len(task.sizes)
        for place, chunk, took in reversed(self._steps):
            if took[taken]:
                counts[place] += chunk
                taken -= chunk * task.sizes[place]
        return counts

    def most(self, kind: Kind) -> int:
        """The most weight that one bar of a kind can hold."""
        return int(sum(self.up_to[capacity] for capacity in kind.capacities))


def prove(task: Task, weights: Weights) -> Proof:
    """The least number of new bars that these weights prove."""
    sack = Knapsack(task, weights)
    total = sum(weight * often for weight, often in zip(weights, task.demand, strict=True))
    most = sack.most(task.new)
    in_offcuts = sum(sack.most(kind) * kind.count for kind in task.rack)
    least = max(0, -(-(total - in_offcuts) // most)) if most else 0
    return Proof(least, tuple(zip(task.sizes, weights, strict=True)), most, in_offcuts)


def quick_proof(task: Task) -> Proof:
    """The best of the weighings that need no solver: by length, by halves, by steps."""
    width = max(task.new.capacities, default=1)
    tried = [prove(task, task.sizes)]
    tried += [prove(task, [(parts * size) // width for size in task.sizes]) for parts in (2, 3, 4)]
    tried += [prove(task, _halves(task.sizes, width, small)) for small in _thresholds(task, width)]
    return max(tried, key=lambda proof: proof.least)


def _halves(sizes: Sequence[int], width: int, small: int) -> list[int]:
    """Above width - small a whole bar, below small nothing, between by length (Martello & Toth)."""
    return [width if size > width - small else size if size >= small else 0 for size in sizes]


def _thresholds(task: Task, width: int) -> list[int]:
    below_half = sorted({size for size in task.sizes if 2 * size <= width})
    return [low + 1 for low, _ in pairwise(below_half)][:12] + below_half[-1:]


def _chunks(count: int) -> list[int]:
    """1, 2, 4 … and the rest: sums of them reach every number up to `count`."""
    found, step = [], 1
    while count > 0:
        found.append(min(step, count))
        count -= step
        step *= 2
    return found
