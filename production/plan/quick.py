"""A good plan at once: jobs are placed one after the other, each as early as it goes, in several orders.

The best of the orders wins; a few jobs that end late are then tried further to the front. No clock and no chance:
the same facts give the same plan.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from production.plan.draft import Days, Draft, Load
from production.plan.facts import Kind, Score
from production.plan.grid import NEVER, Cast, Grid, Task

# How far ahead a framing may wait for a batch of its finish and backing that is set up anyway.
BATCH_WAIT_DAYS = 7
# Tries of late jobs further to the front: each places every job once.
TRIES = 40

Rank = Callable[[Task], tuple[int, ...]]


@dataclass(frozen=True, slots=True)
class Tried:
    score: Score
    draft: Draft
    order: tuple[int, ...]
    batched: bool


def draft(grid: Grid, before: Days, late_days_before: int = 0, tries: int = TRIES) -> Tried:
    """The best draft found.

    `before` are the days of the plan before: where all of it can stand and is no later than it was, it stands; else
    what can stay stays as long as no lateness comes of it.
    """
    kept = _keeping(grid, before) if before else []
    for tried in kept:
        score = tried.score
        if not (
            score.broken or score.lost_prints or score.moves or score.late_days > late_days_before
        ):
            return tried
    best = min([*kept, *_candidates(grid, before)], key=lambda tried: tried.score)
    return _pushed(grid, before, best, tries)


def one_draft(grid: Grid) -> Draft:
    """A draft by promise alone, in one go: for simulations that make hundreds."""
    order = _ordered(grid, _by_promise(grid))
    return _Placing(grid, {}, batched=False).place(order)


def _candidates(grid: Grid, before: Days) -> list[Tried]:
    orders = {
        tuple(order)
        for rank in (_by_promise(grid), _by_slack(grid), _by_readiness(grid))
        for order in (_ordered(grid, rank), _pinned_first(grid, rank))
    }
    return [
        _try(grid, before, order, batched) for order in sorted(orders) for batched in (True, False)
    ]


def _keeping(grid: Grid, before: Days) -> list[Tried]:
    order = _kept(grid, before)
    return [_try(grid, before, order, batched, keep=True) for batched in (True, False)]


def _try(
    grid: Grid, before: Days, order: Sequence[int], batched: bool, keep: bool = False
) -> Tried:
    made = _Placing(grid, before if keep else {}, batched).place(order)
    return Tried(made.score(grid, before), made, tuple(order), batched)


def _pushed(grid: Grid, before: Days, best: Tried, tries: int) -> Tried:
    """Late jobs tried at the place of those that stand before them."""
    left = tries
    improved = True
    while improved and left > 0 and best.score.late_days:
        improved = False
        for index in _latest(grid, best.draft):
            place = best.order.index(index)
            for step in (1, 3, 8):
                if left <= 0 or step > place:
                    break
                left -= 1
                order = list(best.order)
                order.insert(place - step, order.pop(place))
                tried = _try(grid, before, order, best.batched)
                if tried.score < best.score:
                    best, improved = tried, True
                    break
    return best


def _latest(grid: Grid, made: Draft) -> list[int]:
    late = [(grid.late_days(task, made.home(grid, task)), task.index) for task in grid.tasks]
    return [index for days, index in sorted(late, reverse=True) if days]


# --- orders -----------------------------------------------------------------------------------


def _by_promise(grid: Grid) -> Rank:
    def rank(task: Task) -> tuple[int, ...]:
        return (_due(task), task.dry, task.index)

    return rank


def _by_slack(grid: Grid) -> Rank:
    def rank(task: Task) -> tuple[int, ...]:
        return (_due(task) - _dry_from(grid, task), _due(task), task.index)

    return rank


def _by_readiness(grid: Grid) -> Rank:
    def rank(task: Task) -> tuple[int, ...]:
        return (_dry_from(grid, task), _due(task), task.index)

    return rank


def _due(task: Task) -> int:
    """The last day of framing that keeps the promise, about."""
    return NEVER if task.promised is None else task.promised - task.job.cure_days


def _dry_from(grid: Grid, task: Task) -> int:
    coming = [cast.out[0] + cast.dry for cast in task.casts if cast.out]
    return max([task.dry, *coming])


def _ordered(grid: Grid, rank: Rank) -> list[int]:
    """Jobs whose casts all lie on the rack free it first, then what is pinned."""

    def phase(task: Task) -> tuple[int, ...]:
        return (0 if task.is_out else 1 if _is_pinned(task) else 2, *rank(task))

    return [task.index for task in sorted(grid.tasks, key=phase)]


def _pinned_first(grid: Grid, rank: Rank) -> list[int]:
    def phase(task: Task) -> tuple[int, ...]:
        return (0 if _is_pinned(task) else 1, *rank(task))

    return [task.index for task in sorted(grid.tasks, key=phase)]


def _kept(grid: Grid, before: Days) -> list[int]:
    """Jobs that can stay where they were, in the order of their framing; then the others by promise."""

    def phase(task: Task) -> tuple[int, ...]:
        framed = before.get((task.job.key, "frame", ""), NEVER)
        stays = max(_dry_from(grid, task), 0) <= framed < NEVER
        return (0, framed, task.index) if stays else (1, _due(task), task.index)

    return [task.index for task in sorted(grid.tasks, key=phase)]


def _is_pinned(task: Task) -> bool:
    return (
        task.home_pin is not None
        or task.frame_pinned
        or any(cast.out_pinned or cast.pour_pinned for cast in task.casts)
    )


# --- placing ----------------------------------------------------------------------------------


class _Placing:
    """Places pins first, then all pours by the last day of their clay, then job after job."""

    def __init__(self, grid: Grid, before: Days, batched: bool) -> None:
        self.grid = grid
        self.before = before
        self.batched = batched
        self.load = Load(grid)
        self.draft = Draft()

    def place(self, order: Sequence[int]) -> Draft:
        for task in self.grid.tasks:
            self.load.take_pins(task)
        self._place_pours()
        for index in order:
            self._place_job(self.grid.tasks[index])
        return self.draft

    def _place_pours(self) -> None:
        for task in self.grid.tasks:
            for number, cast in enumerate(task.casts):
                if cast.pour and cast.pour_pinned:
                    self.draft.pour[task.index, number] = cast.pour[0]
        waiting = [
            (min(cast.pour_by, cast.pour_until), cast.pour[0], task.index, number, cast)
            for task in self.grid.tasks
            for number, cast in enumerate(task.casts)
            if cast.pour and not cast.pour_pinned
        ]
        for _by, first, index, number, cast in sorted(waiting, key=lambda each: each[:4]):
            kept = self._before(self.grid.tasks[index], "pour", cast)
            day = min(max(first, min(kept, cast.pour_by)), NEVER)
            while day < NEVER and not self.load.can_pour(day, cast):
                day += 1
            self.load.pour(day, cast)
            self.draft.pour[index, number] = day

    def _before(self, task: Task, kind: Kind, cast: Cast | None = None) -> int:
        return self.before.get((task.job.key, kind, cast.piece.key if cast else ""), 0)

    def _place_job(self, task: Task) -> None:
        if not task.frame:
            return
        coming = [number for number, cast in enumerate(task.casts) if cast.out]
        for number in coming:
            self._take_out(task, number, self._first_out(task, number))
        framed = self._frame_day(task)
        while coming and (full := self._full_until(task, coming, framed)) is not None:
            later = self._later(task, coming, full)
            if later is None or framed >= NEVER:
                framed = self._crowd(task, coming)
                break
            framed = self._frame_day(task)
        if not task.frame_pinned:
            self.load.frame(framed, task)
        self.draft.frame[task.index] = framed
        for number in coming:
            if (task.index, number) not in self.draft.crowded:
                self.load.lie(self.draft.out[task.index, number], framed)

    def _first_out(self, task: Task, number: int) -> int:
        cast = task.casts[number]
        poured = self.draft.pour.get((task.index, number))
        set_on = 0 if poured is None else poured + self.grid.bench.mould_days
        return min(max(cast.out_from, set_on, self._before(task, "demould", cast)), NEVER)

    def _take_out(self, task: Task, number: int, day: int) -> None:
        """Demould on the first day from `day` on that has minutes left for it."""
        if not task.casts[number].out_pinned:
            while day < NEVER and not self.load.can_demould(day):
                day += 1
            self.load.demould(day)
        self.draft.out[task.index, number] = day

    def _frame_day(self, task: Task) -> int:
        if task.frame_pinned:
            return task.frame_from
        first = max(task.dry, task.frame_from, self._before(task, "frame"))
        for number, cast in enumerate(task.casts):
            if cast.out:
                first = max(first, self.draft.out[task.index, number] + cast.dry)
        first = min(first, NEVER)
        while first < NEVER and not self.load.can_frame(first, task):
            first += 1
        return self._with_batch(task, first) if self.batched else first

    def _with_batch(self, task: Task, first: int) -> int:
        """A later day on which its batch is set up anyway, where that keeps the promise; else the first."""
        grid, load = self.grid, self.load
        if first >= NEVER or load.batches[first, task.job.batch]:
            return first
        latest = min(first + BATCH_WAIT_DAYS, task.frame_until)
        for day in range(first + 1, latest + 1):
            if grid.late_days(task, grid.home(task, day)):
                break
            if load.batches[day, task.job.batch] and load.can_frame(day, task):
                return day
        return first

    def _full_until(self, task: Task, coming: list[int], framed: int) -> int | None:
        """The last of the first days running on which the rack has no place for them."""
        outs = [self.draft.out[task.index, number] for number in coming]
        places = self.grid.bench.rack_places
        full = None
        for day in range(min(outs), framed):
            lying = sum(out <= day for out in outs)
            if self.load.rack[day] + lying > places:
                full = day
            elif full is not None:
                break
        return full

    def _later(self, task: Task, coming: list[int], full: int) -> int | None:
        """Put off the cast that came onto the full rack last; None where none can be."""
        movable = [
            (self.draft.out[task.index, number], number)
            for number in coming
            if not task.casts[number].out_pinned and self.draft.out[task.index, number] <= full
        ]
        movable = [(out, number) for out, number in movable if full < task.casts[number].out_until]
        if not movable:
            return None
        out, number = max(movable)
        self.load.demould(out, -1)
        self._take_out(task, number, full + 1)
        return number

    def _crowd(self, task: Task, coming: list[int]) -> int:
        """No place comes free for them: they lie beside the rack."""
        for number in coming:
            if not task.casts[number].out_pinned:
                self.load.demould(self.draft.out[task.index, number], -1)
                self._take_out(task, number, self._first_out(task, number))
        self.draft.crowded.update((task.index, number) for number in coming)
        return self._frame_day(task)
