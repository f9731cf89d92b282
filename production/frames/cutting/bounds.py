"""Lower bounds on the number of bars by weights, and the bounded knapsack behind them. Whole numbers only.

Give every rail a weight. If no bar can hold more than V, rails of total weight T need at least ⌈T / V⌉ bars: the duality
behind the bounds of Martello & Toth and of Fekete & Schepers, here with V computed exactly for any weights.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from production.frames.cutting.bar_plan import Proof

Weights = Sequence[int]

NEVER = np.iinfo(np.int64).min // 4


@dataclass(frozen=True, slots=True)
class Kind:
    """`count` bars with the same clear runs; `capacities`: the length that rails plus losses may take in each."""

    capacities: tuple[int, ...]
    count: int


@dataclass(frozen=True, slots=True)
class Task:
    """A cutting problem: lengths taken (rail + loss, or a matched set), demand of each, new bars, stored offcuts."""

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
        """By how many mm the rest of a run is longer than the shortest offcut that is kept; 0 if shorter."""
        return max(0, capacity - self.loss_mm - taken - self.useful_mm)

    def worths(self, capacity: int) -> NDArray[np.int64]:
        """`worth` for every length taken, 0 to `capacity`."""
        beyond = capacity - self.loss_mm - self.useful_mm - np.arange(capacity + 1, dtype=np.int64)
        return np.maximum(beyond, 0)


class Knapsack:
    """Bounded knapsack: `best_at[n]` is the most weight that takes exactly n mm, `best_within[n]` at most n mm."""

    def __init__(self, task: Task, weights: Weights) -> None:
        best = np.full(task.widest + 1, NEVER, dtype=np.int64)
        best[0] = 0
        self._steps: list[tuple[int, int, NDArray[np.bool_]]] = []
        for place, (size, weight) in enumerate(zip(task.sizes, weights, strict=True)):
            if weight <= 0:
                continue
            for chunk in _chunks(min(task.demand[place], task.widest // size)):
                best = self._offer(best, place, size * chunk, weight * chunk, chunk)
        self.best_at = best
        self.best_within: NDArray[np.int64] = np.maximum.accumulate(best)

    def _offer(
        self, best: NDArray[np.int64], place: int, size: int, weight: int, chunk: int
    ) -> NDArray[np.int64]:
        offered = best[:-size] + weight
        took = np.zeros(len(best), dtype=np.bool_)
        took[size:] = offered > best[size:]
        better = best.copy()
        better[size:] = np.maximum(best[size:], offered)
        self._steps.append((place, chunk, took))
        return better

    def pattern(self, task: Task, taken: int) -> list[int]:
        """Count of each size in the best filling that takes exactly `taken` mm."""
        counts = [0] * len(task.sizes)
        for place, chunk, took in reversed(self._steps):
            if took[taken]:
                counts[place] += chunk
                taken -= chunk * task.sizes[place]
        return counts

    def most(self, kind: Kind) -> int:
        """The most weight that one bar of this kind can hold."""
        return int(sum(self.best_within[capacity] for capacity in kind.capacities))


def prove_bound(task: Task, weights: Weights) -> Proof:
    """Prove the least number of new bars by these weights (one per size)."""
    sack = Knapsack(task, weights)
    total = sum(weight * often for weight, often in zip(weights, task.demand, strict=True))
    most = sack.most(task.new)
    in_offcuts = sum(sack.most(kind) * kind.count for kind in task.rack)
    least = max(0, -(-(total - in_offcuts) // most)) if most else 0
    return Proof(least, tuple(zip(task.sizes, weights, strict=True)), most, in_offcuts)


def quick_bound(task: Task) -> Proof:
    """The best proof that needs no solver: weights by length, by steps, and by halving."""
    width = max(task.new.capacities, default=1)
    tried = [prove_bound(task, task.sizes)]
    tried += [
        prove_bound(task, [(parts * size) // width for size in task.sizes]) for parts in (2, 3, 4)
    ]
    tried += [
        prove_bound(task, _halving_weights(task.sizes, width, small))
        for small in _thresholds(task, width)
    ]
    return max(tried, key=lambda proof: proof.least)


def _halving_weights(sizes: Sequence[int], width: int, small: int) -> list[int]:
    """Weights after Martello & Toth: a whole bar above `width - small`, nothing below `small`, else the length."""
    return [width if size > width - small else size if size >= small else 0 for size in sizes]


def _thresholds(task: Task, width: int) -> list[int]:
    below_half = sorted({size for size in task.sizes if 2 * size <= width})
    return [low + 1 for low, _ in pairwise(below_half)][:12] + below_half[-1:]


def _chunks(count: int) -> list[int]:
    """Split `count` into 1, 2, 4 … and a rest, whose sums reach every number up to it."""
    found, step = [], 1
    while count > 0:
        found.append(min(step, count))
        count -= step
        step *= 2
    return found
