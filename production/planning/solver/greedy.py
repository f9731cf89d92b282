"""A good plan in milliseconds: jobs are placed one after the other, each as early as possible, in several orders.

The best order wins; then jobs that end late are moved forward in it. Deterministic: no clock and no chance.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from production.planning.solver.day_grid import NEVER, Cast, Grid, Task
from production.planning.solver.draft import Draft, Load, PreviousDays
from production.planning.solver.model import Kind, Score

# So many days may a framing wait for a batch of its finish and backing that is set up anyway.
BATCH_WAIT_DAYS = 7

# Attempts at moving late jobs forward: each places every job once.
MAX_TRIES = 40

Rank = Callable[[Task], tuple[int, ...]]


@dataclass(frozen=True, slots=True)
class Attempt:
    score: Score
    draft: Draft
    order: tuple[int, ...]
    batched: bool


def best_draft(
    grid: Grid, before: PreviousDays, late_days_before: int = 0, max_tries: int = MAX_TRIES
) -> Attempt:
    """Find the best draft.

    If every step can stay on its day in the previous plan (`before`) without more late days than `late_days_before`,
    that is the draft; otherwise steps stay as long as this makes no job later.
    """
    kept = _attempts_keeping(grid, before) if before else []
    for tried in kept:
        score = tried.score
        if not (
            score.broken or score.lost_prints or score.moves or score.late_days > late_days_before
        ):
            return tried
    best = min([*kept, *_candidates(grid, before)], key=lambda tried: tried.score)
    return _push_late_jobs_forward(grid, before, best, max_tries)


def draft_by_promise(grid: Grid) -> Draft:
    """Draft in one pass, the soonest promise first: fast enough for simulations that make hundreds."""
    order = _ordered(grid, _by_promise(grid))
    return _Placer(grid, {}, batched=False).place(order)


def _candidates(grid: Grid, before: PreviousDays) -> list[Attempt]:
    orders = {
        tuple(order)
        for rank in (_by_promise(grid), _by_slack(grid), _by_readiness(grid))
        for order in (_ordered(grid, rank), _pinned_first(grid, rank))
    }
    return [
        _try(grid, before, order, batched) for order in sorted(orders) for batched in (True, False)
    ]


def _attempts_keeping(grid: Grid, before: PreviousDays) -> list[Attempt]:
    order = _previous_order(grid, before)
    return [_try(grid, before, order, batched, keep=True) for batched in (True, False)]


def _try(
    grid: Grid, before: PreviousDays, order: Sequence[int], batched: bool, keep: bool = False
) -> Attempt:
    draft = _Placer(grid, before if keep else {}, batched).place(order)
    return Attempt(draft.score(grid, before), draft, tuple(order), batched)


def _push_late_jobs_forward(
    grid: Grid, before: PreviousDays, best: Attempt, max_tries: int
) -> Attempt:
    """Move late jobs 1, 3 or 8 places forward in the order as long as the score improves."""
    left = max_tries
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


def _latest(grid: Grid, draft: Draft) -> list[int]:
    late = [(grid.late_days(task, draft.home(grid, task)), task.index) for task in grid.tasks]
    return [index for days, index in sorted(late, reverse=True) if days]


def _by_promise(grid: Grid) -> Rank:
    return lambda task: (_latest_framing(task), task.dry, task.index)


def _by_slack(grid: Grid) -> Rank:
    def rank(task: Task) -> tuple[int, ...]:
        return (_latest_framing(task) - _dry_on(grid, task), _latest_framing(task), task.index)

    return rank


def _by_readiness(grid: Grid) -> Rank:
    return lambda task: (_dry_on(grid, task), _latest_framing(task), task.index)


def _latest_framing(task: Task) -> int:
    """The last day of framing that keeps the promise, ignoring closed days; NEVER without a promise."""
    return NEVER if task.promised is None else task.promised - task.job.cure_days


def _dry_on(grid: Grid, task: Task) -> int:
    coming = [cast.demould[0] + cast.dry for cast in task.casts if cast.demould]
    return max([task.dry, *coming])


def _ordered(grid: Grid, rank: Rank) -> list[int]:
    """Order tasks: those with all casts demoulded first, as they free the rack, then pinned ones, then by `rank`."""

    def phase(task: Task) -> tuple[int, ...]:
        return (0 if task.is_demoulded else 1 if _is_pinned(task) else 2, *rank(task))

    return [task.index for task in sorted(grid.tasks, key=phase)]


def _pinned_first(grid: Grid, rank: Rank) -> list[int]:
    return [
        each.index
        for each in sorted(grid.tasks, key=lambda each: (not _is_pinned(each), *rank(each)))
    ]


def _previous_order(grid: Grid, before: PreviousDays) -> list[int]:
    """Order tasks: those that can be framed on their previous day by that day, then the others by promise."""

    def phase(task: Task) -> tuple[int, ...]:
        framed = before.get((task.job.key, "frame", ""), NEVER)
        stays = max(_dry_on(grid, task), 0) <= framed < NEVER
        return (0, framed, task.index) if stays else (1, _latest_framing(task), task.index)

    return [task.index for task in sorted(grid.tasks, key=phase)]


def _is_pinned(task: Task) -> bool:
    return (
        task.home_pin is not None
        or task.frame_pinned
        or any(cast.demould_pinned or cast.pour_pinned for cast in task.casts)
    )


class _Placer:
    """Places pins first, then all pours by the last day of their clay, then job after job in a given order."""

    def __init__(self, grid: Grid, before: PreviousDays, batched: bool) -> None:
        self.grid = grid
        self.before = before
        self.batched = batched
        self.load = Load(grid)
        self.draft = Draft()

    def place(self, order: Sequence[int]) -> Draft:
        for task in self.grid.tasks:
            self.load.add_pins(task)
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
        coming = [number for number, cast in enumerate(task.casts) if cast.demould]
        for number in coming:
            self._demould(task, number, self._first_demould_day(task, number))
        framed = self._frame_day(task)
        while coming and (full := self._rack_full_until(task, coming, framed)) is not None:
            later = self._postpone_cast(task, coming, full)
            if later is None or framed >= NEVER:
                framed = self._place_beside_rack(task, coming)
                break
            framed = self._frame_day(task)
        if not task.frame_pinned:
            self.load.frame(framed, task)
        self.draft.frame[task.index] = framed
        for number in coming:
            if (task.index, number) not in self.draft.without_place:
                self.load.occupy_rack(self.draft.demould[task.index, number], framed)

    def _first_demould_day(self, task: Task, number: int) -> int:
        cast = task.casts[number]
        poured = self.draft.pour.get((task.index, number))
        set_on = 0 if poured is None else poured + self.grid.bench.mould_days
        return min(max(cast.demould_from, set_on, self._before(task, "demould", cast)), NEVER)

    def _demould(self, task: Task, number: int, day: int) -> None:
        """Demould on the first day from `day` on with enough minutes left, or on the pinned day."""
        if not task.casts[number].demould_pinned:
            while day < NEVER and not self.load.can_demould(day):
                day += 1
            self.load.demould(day)
        self.draft.demould[task.index, number] = day

    def _frame_day(self, task: Task) -> int:
        if task.frame_pinned:
            return task.frame_from
        first = max(task.dry, task.frame_from, self._before(task, "frame"))
        for number, cast in enumerate(task.casts):
            if cast.demould:
                first = max(first, self.draft.demould[task.index, number] + cast.dry)
        first = min(first, NEVER)
        while first < NEVER and not self.load.can_frame(first, task):
            first += 1
        return self._with_batch(task, first) if self.batched else first

    def _with_batch(self, task: Task, first: int) -> int:
        """A later day on which the same batch is set up anyway, if that makes the job no later; else `first`."""
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

    def _rack_full_until(self, task: Task, coming: list[int], framed: int) -> int | None:
        """The last day of the first stretch on which the rack has no place for these casts; None if it always has."""
        outs = [self.draft.demould[task.index, number] for number in coming]
        places = self.grid.bench.rack_places
        full = None
        for day in range(min(outs), framed):
            places_taken = sum(out <= day for out in outs)
            if self.load.rack[day] + places_taken > places:
                full = day
            elif full is not None:
                break
        return full

    def _postpone_cast(self, task: Task, coming: list[int], full: int) -> int | None:
        """Demould the cast that reached the full rack last after day `full`; return its number, None if none can."""
        movable = [
            (self.draft.demould[task.index, number], number)
            for number in coming
            if not task.casts[number].demould_pinned
            and self.draft.demould[task.index, number] <= full
        ]
        movable = [
            (out, number) for out, number in movable if full < task.casts[number].demould_until
        ]
        if not movable:
            return None
        out, number = max(movable)
        self.load.demould(out, -1)
        self._demould(task, number, full + 1)
        return number

    def _place_beside_rack(self, task: Task, coming: list[int]) -> int:
        """Leave these casts without a rack place, demoulded as early as possible; return the day of framing."""
        for number in coming:
            if not task.casts[number].demould_pinned:
                self.load.demould(self.draft.demould[task.index, number], -1)
                self._demould(task, number, self._first_demould_day(task, number))
        self.draft.without_place.update((task.index, number) for number in coming)
        return self._frame_day(task)
