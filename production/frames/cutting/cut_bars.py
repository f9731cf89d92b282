"""Cutting rails out of bars: stored offcuts first, the fewest new bars, then the most useful offcuts.

On every clear run of a bar Σ(rail + loss) ≤ run + loss, where the loss is what saw and squaring take between two
pieces. Matched rails are cut side by side. Deterministic: the same week gives the same plan.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence

from production.frames.cutting import bounds, packing
from production.frames.cutting.bar_plan import (
    Bar,
    BarPlan,
    CannotCut,
    Cut,
    CutBar,
    Proof,
    Rail,
    Run,
    check_rails,
)
from production.frames.cutting.bounds import Kind, Task
from production.frames.cutting.column_generation import (
    NEW,
    Column,
    Pool,
    choose_columns,
    count_new_bars,
    generate_fewest_bars,
    generate_most_useful,
)
from production.frames.cutting.diving import dive
from production.frames.cutting.spare_offcuts import spare_offcuts

# The shortest offcut worth keeping: the short side of the smallest frame.
USEFUL_MM = 250

_Set = tuple[Rail, ...]


def cut_bars(
    rails: Iterable[Rail],
    *,
    stock_mm: int,
    rack: Sequence[Bar] = (),
    loss_mm: int = 5,
    useful_mm: int = USEFUL_MM,
) -> BarPlan:
    """Plan the cuts of all rails from the offcuts in `rack` and as many new bars of `stock_mm` as needed.

    `loss_mm` is lost at each cut; offcuts from `useful_mm` on are kept. Raises CannotCut for a rail, or a matched set,
    that is longer than a new bar.
    """
    wanted = list(rails)
    check_rails(wanted, (Bar(stock_mm), *rack), loss_mm)
    sets = _matched_sets(wanted)
    sizes = sorted({_taken_mm(each, loss_mm) for each in sets}, reverse=True)
    kinds: dict[tuple[int, ...], list[Bar]] = defaultdict(list)
    for bar in rack:
        if capacities := _capacities(bar, loss_mm):
            kinds[capacities].append(bar)
    task = Task(
        sizes=tuple(sizes),
        demand=tuple(sum(_taken_mm(each, loss_mm) == size for each in sets) for size in sizes),
        new=Kind(_capacities(Bar(stock_mm), loss_mm), len(sets)),
        rack=tuple(Kind(capacities, len(bars)) for capacities, bars in kinds.items()),
        loss_mm=loss_mm,
        useful_mm=useful_mm,
    )
    _check_longest_sets(task, sets)
    chosen, proof, most = solve(task) if sets else ([], Proof(0), None)
    return _build_plan(task, chosen, sets, list(kinds.values()), stock_mm, proof, most)


def solve(task: Task) -> tuple[list[Column], Proof, int]:
    """Return the bars by pattern, the proof of the fewest new bars, and the bound on useful offcuts in mm."""
    pool = Pool()
    filled = [found for fill in (packing.best_fit, packing.first_fit) if (found := fill(task))]
    known = min((pool.add_filled(task, bars) for bars in filled), key=count_new_bars)
    proof = bounds.quick_bound(task)
    if proof.least < count_new_bars(known):
        proof = generate_fewest_bars(task, pool, proof)
        known = _search_below(task, pool, known, proof.least)
    new_bars = count_new_bars(known)
    known = spare_offcuts(task, pool, known)
    most = generate_most_useful(task, pool, new_bars)
    return _without_extras(task, choose_columns(task, pool, known, new_bars)), proof, most


def _search_below(task: Task, pool: Pool, known: list[Column], least: int) -> list[Column]:
    """Search from the proven least number of new bars upwards for the first with a cutting; else `known`."""
    for new_bars in range(least, count_new_bars(known)):
        if found := dive(task, pool, new_bars):
            return found
    return known


def _matched_sets(rails: Iterable[Rail]) -> list[_Set]:
    """Group matched rails into sets; every other rail is a set of its own."""
    sets: dict[object, list[Rail]] = defaultdict(list)
    for place, rail in enumerate(rails):
        sets[rail.matched or place].append(rail)
    return [tuple(each) for each in sets.values()]


def _taken_mm(rails: _Set, loss_mm: int) -> int:
    return sum(rail.length_mm + loss_mm for rail in rails)


def _capacities(bar: Bar, loss_mm: int) -> tuple[int, ...]:
    return tuple(run.length_mm + loss_mm for run in bar.runs(loss_mm))


def _check_longest_sets(task: Task, sets: Iterable[_Set]) -> None:
    for rails in sets:
        taken = _taken_mm(rails, task.loss_mm)
        # Only a new bar is sure to be available.
        if taken > max(task.new.capacities):
            long_mm = taken - task.loss_mm
            what = rails[0].matched or rails[0].name or "A rail"
            raise CannotCut(
                f"{what} needs {long_mm} mm out of one bar, and a bar has "
                f"{max(task.new.capacities) - task.loss_mm} mm."
            )


def _without_extras(task: Task, chosen: Iterable[Column]) -> list[Column]:
    """Drop the pieces that the patterns make beyond the demand, from the bars with the most room first."""
    over = [-often for often in task.demand]
    for column in chosen:
        for place, often in column.counts().items():
            over[place] += often
    kept = []
    for column in sorted(chosen, key=lambda each: -each.worth(task)):
        runs = []
        for run in column.runs:
            left = []
            for place, often in run:
                extra = min(often, max(0, over[place]))
                over[place] -= extra
                if often > extra:
                    left.append((place, often - extra))
            runs.append(tuple(left))
        kept.append(Column(column.kind, tuple(runs)))
    return [column for column in kept if column.counts()]


def _build_plan(
    task: Task,
    chosen: Iterable[Column],
    sets: Iterable[_Set],
    racked: list[list[Bar]],
    stock_mm: int,
    proof: Proof,
    most: int | None,
) -> BarPlan:
    waiting: dict[int, list[_Set]] = defaultdict(list)
    for rails in reversed(list(sets)):
        waiting[_taken_mm(rails, task.loss_mm)].append(rails)
    untouched = [list(reversed(bars)) for bars in racked]
    bars = []
    for column in sorted(chosen, key=lambda each: (each.kind == NEW, each.worth(task), each)):
        bar = Bar(stock_mm) if column.kind == NEW else untouched[column.kind].pop()
        runs = [_lay(task, run, waiting) for run in column.runs]
        bars.append(_cut(task, bar, column.kind == NEW, runs))
    left = tuple(bar for kind in untouched for bar in reversed(kind))
    kept = [run for bar in bars for run in bar.offcuts]
    kept += [run for bar in left for run in bar.runs(task.loss_mm) if _is_kept(task, run)]
    useful_mm = sum(run.length_mm - task.useful_mm for run in kept)
    return BarPlan(tuple(bars), proof, useful_mm, useful_mm if most is None else most, left)


def _lay(
    task: Task, run: Iterable[tuple[int, int]], waiting: dict[int, list[_Set]]
) -> Iterator[Rail]:
    for place, often in run:
        for _ in range(often):
            yield from waiting[task.sizes[place]].pop()


def _cut(task: Task, bar: Bar, is_new: bool, laid: Iterable[Iterable[Rail]]) -> CutBar:
    cuts, offcuts = [], []
    for run, rails in zip(bar.runs(task.loss_mm), laid, strict=True):
        at = run.from_mm
        for rail in rails:
            cuts.append(Cut(rail, at))
            at += rail.length_mm + task.loss_mm
        rest = Run(at, run.to_mm)
        if _is_kept(task, rest):
            offcuts.append(rest)
    return CutBar(bar, is_new, tuple(cuts), tuple(offcuts))


def _is_kept(task: Task, run: Run) -> bool:
    return run.length_mm >= task.useful_mm
