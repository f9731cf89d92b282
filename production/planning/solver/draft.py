"""A plan under construction in days from today, and the load that it puts on each day."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

from production.planning.solver.day_grid import NEVER, Cast, Grid, Task
from production.planning.solver.model import Kind, Score

# (job key, kind, piece key) → its day in the previous plan
PreviousDays = Mapping[tuple[str, Kind, str], int]


@dataclass(slots=True)
class Draft:
    """The day of each pour and demoulding by (task index, cast number), and of each framing by task index.

    A step for which no day was found has NEVER. `without_place`: casts that find no place on the rack.
    """

    pour: dict[tuple[int, int], int] = field(default_factory=dict)
    demould: dict[tuple[int, int], int] = field(default_factory=dict)
    frame: dict[int, int] = field(default_factory=dict)
    without_place: set[tuple[int, int]] = field(default_factory=set)

    def copy(self) -> "Draft":
        return Draft(dict(self.pour), dict(self.demould), dict(self.frame), set(self.without_place))

    def home(self, grid: Grid, task: Task) -> int:
        return grid.home(task, self.frame.get(task.index, 0))

    def score(self, grid: Grid, before: PreviousDays) -> Score:
        """Score the draft; `before` are the days of the previous plan."""
        late = lost = broken = length = 0
        batches = set()
        for task in grid.tasks:
            home = self.home(grid, task)
            late += grid.late_days(task, home) * task.job.weight
            broken += home >= NEVER or (task.home_pin is not None and home != task.home_pin)
            if task.frame:
                framed = self.frame[task.index]
                broken += framed > task.frame[1]
                length += framed
                batches.add((framed, task.job.batch))
            for number, cast in enumerate(task.casts):
                poured = self.pour.get((task.index, number), 0)
                broken += self.demould.get((task.index, number), 0) > cast.demould_until
                broken += poured > cast.pour_until
                lost += poured > cast.pour_by
        broken += len(self.without_place)
        return Score(broken, lost, late, self.moves(grid, before), length + len(batches))

    def moves(self, grid: Grid, before: PreviousDays) -> int:
        """Count the steps on another day than before, leaving out steps that moved from the past to today."""
        return sum(max(before.get(key, day), 0) != day for key, day in self.steps(grid))

    def steps(self, grid: Grid) -> list[tuple[tuple[str, Kind, str], int]]:
        """List every movable step as ((job key, kind, piece key), day)."""
        found: list[tuple[tuple[str, Kind, str], int]] = []
        for task in grid.tasks:
            key = task.job.key
            for number, cast in enumerate(task.casts):
                if cast.pour:
                    found.append(((key, "pour", cast.piece.key), self.pour[task.index, number]))
                if cast.demould:
                    found.append(
                        ((key, "demould", cast.piece.key), self.demould[task.index, number])
                    )
            if task.frame:
                found.append(((key, "frame", ""), self.frame[task.index]))
        return found


class Load:
    """Minutes, moulds, slurry and rack places used on each day, and whether another step still fits."""

    def __init__(self, grid: Grid) -> None:
        self.grid = grid
        self.left = list(grid.minutes)
        self.framing_left = list(grid.framing)
        self.moulds = [0] * (NEVER + 1)
        self.slurry_ml = [0.0] * (NEVER + 1)
        self.batches: Counter[tuple[int, tuple[str, str]]] = Counter()
        self.rack = [sum(task.places_taken for task in grid.tasks)] * (NEVER + 1)

    def add_job(self, task: Task, draft: Draft) -> None:
        """Add all steps of a job on the days that a draft gives them."""
        for number, cast in enumerate(task.casts):
            where = (task.index, number)
            if cast.pour and draft.pour[where] < NEVER:
                self.pour(draft.pour[where], cast)
            if cast.demould and draft.demould[where] < NEVER:
                self.demould(draft.demould[where])
                if where not in draft.without_place:
                    self.occupy_rack(draft.demould[where], draft.frame[task.index])
        if task.frame and draft.frame[task.index] < NEVER:
            self.frame(draft.frame[task.index], task)

    def add_pins(self, task: Task) -> None:
        """Add the steps of a job that the owner has pinned, whether they fit or not."""
        for cast in task.casts:
            if cast.pour and cast.pour_pinned:
                self.pour(cast.pour[0], cast)
            if cast.demould and cast.demould_pinned:
                self.demould(cast.demould[0])
        if task.frame_pinned:
            self.frame(task.frame_from, task)

    def pour_minutes(self, day: int, cast: Cast) -> int | None:
        """Minutes added by pouring this cast too on that day; None if no bucket is left."""
        grid = self.grid
        before = grid.bucketfuls(self.moulds[day], self.slurry_ml[day])
        after = grid.bucketfuls(self.moulds[day] + 1, self.slurry_ml[day] + grid.volume_ml(cast))
        if after > grid.bench.pours_per_day:
            return None
        return (after - before) * grid.bench.pour_minutes

    def can_pour(self, day: int, cast: Cast) -> bool:
        if not self.grid.open[day]:
            return False
        minutes = self.pour_minutes(day, cast)
        return minutes is not None and minutes <= max(self.left[day], 0)

    def pour(self, day: int, cast: Cast) -> None:
        self.left[day] -= self.pour_minutes(day, cast) or 0
        self.moulds[day] += 1
        self.slurry_ml[day] += self.grid.volume_ml(cast)

    def can_demould(self, day: int) -> bool:
        return self.grid.open[day] and self.left[day] >= self.grid.bench.demould_minutes

    def demould(self, day: int, times: int = 1) -> None:
        self.left[day] -= self.grid.bench.demould_minutes * times

    def frame_minutes(self, day: int, task: Task) -> int:
        setup = 0 if self.batches[day, task.job.batch] else self.grid.bench.setup_minutes
        return task.minutes + setup

    def can_frame(self, day: int, task: Task) -> bool:
        if not self.grid.open[day]:
            return False
        minutes = self.frame_minutes(day, task)
        return minutes <= self.framing_left[day] and minutes <= self.left[day]

    def frame(self, day: int, task: Task) -> None:
        """Add the framing of a job; its casts on the rack free their places from that day on."""
        minutes = self.frame_minutes(day, task)
        self.left[day] -= minutes
        self.framing_left[day] -= minutes
        self.batches[day, task.job.batch] += 1
        if task.places_taken:
            freed = task.places_taken
            self.rack[day:] = [taken - freed for taken in self.rack[day:]]

    def occupy_rack(self, first: int, until: int) -> None:
        for day in range(first, until):
            self.rack[day] += 1
