"""Cutting plans by rule of thumb: longest rail first, best fit or first fit. Quick and near the optimum.

`weighing` proves when they are optimal, `columns` improves them.
"""

from bisect import bisect_left, insort
from dataclasses import dataclass, field

from production.frames.cutting.bounds import Kind, Task

Pattern = tuple[int, ...]


@dataclass(slots=True)
class Filled:
    """One bar being filled: per run, how often each size (by index) is cut from it."""

    kind: Kind
    is_new: bool
    runs: list[dict[int, int]] = field(default_factory=list)

    def counts(self, sizes: int) -> Pattern:
        found = [0] * sizes
        for run in self.runs:
            for place, often in run.items():
                found[place] += often
        return tuple(found)


def best_fit(task: Task) -> list[Filled] | None:
    """Fill bars longest rail first, each into the fullest run that still holds it, offcuts before new bars.

    None if a size fits nowhere.
    """
    return _fill(task, tightest=True)


def first_fit(task: Task) -> list[Filled] | None:
    """Fill bars longest rail first, each into the first run that holds it, offcuts before new bars; None as above."""
    return _fill(task, tightest=False)


def _fill(task: Task, *, tightest: bool) -> list[Filled] | None:
    bars = [
        Filled(kind, False, [{} for _ in kind.capacities])
        for kind in sorted(task.rack, key=lambda kind: max(kind.capacities, default=0))
        for _ in range(kind.count)
    ]
    # (rank, bar, run, free), ranked by free length for the best fit, else by the order of opening.
    open_runs: list[tuple[int, int, int, int]] = []
    for number, bar in enumerate(bars):
        _open(open_runs, bar, number, tightest=tightest)
    by_length = sorted(range(len(task.sizes)), key=lambda place: -task.sizes[place])
    for place in by_length:
        for _ in range(task.demand[place]):
            if not _lay(task, bars, open_runs, place, tightest=tightest):
                return None
    return [bar for bar in bars if any(bar.runs)]


def _lay(
    task: Task,
    bars: list[Filled],
    open_runs: list[tuple[int, int, int, int]],
    place: int,
    *,
    tightest: bool,
) -> bool:
    size = task.sizes[place]
    at = _find(open_runs, size, tightest=tightest)
    if at is None:
        if size > max(task.new.capacities, default=0):
            return False
        bars.append(Filled(task.new, True, [{} for _ in task.new.capacities]))
        _open(open_runs, bars[-1], len(bars) - 1, tightest=tightest)
        at = _find(open_runs, size, tightest=tightest)
    if at is None:
        return False
    _, number, run, free = open_runs.pop(at)
    free -= size
    insort(open_runs, (free if tightest else number, number, run, free))
    filled = bars[number].runs[run]
    filled[place] = filled.get(place, 0) + 1
    return True


def _open(
    open_runs: list[tuple[int, int, int, int]], bar: Filled, number: int, *, tightest: bool
) -> None:
    for run, free in enumerate(bar.kind.capacities):
        insort(open_runs, (free if tightest else number, number, run, free))


def _find(open_runs: list[tuple[int, int, int, int]], size: int, *, tightest: bool) -> int | None:
    if tightest:
        at = bisect_left(open_runs, (size, -1, -1, -1))
        return at if at < len(open_runs) else None
    return next((at for at, (*_, free) in enumerate(open_runs) if free >= size), None)
