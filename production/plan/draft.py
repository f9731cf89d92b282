"""A plan in days, and what it leaves of every day."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

from production.plan.facts import Kind, Score
from production.plan.grid import NEVER, Cast, Grid, Task

# (job's key, kind, piece's key) → day of the plan before
Days = Mapping[tuple[str, Kind, str], int]


@dataclass(slots=True)
class Draft:
    """The day of each pour and demoulding by (task, cast), and of each framing by task; NEVER where none was found.

    `crowded` casts have no place on the rack.
    """

    pour: dict[tuple[int, int], int] = field(default_factory=dict)
    out: dict[tuple[int, int], int] = field(default_factory=dict)
    frame: dict[int, int] = field(default_factory=dict)
    crowded: set[tuple[int, int]] = field(default_factory=set)

    def copy(self) -> "Draft":
        return Draft(dict(self.pour), dict(self.out), dict(self.frame), set(self.crowded))

    def home(self, grid: Grid, task: Task) -> int:
        return grid.home(task, self.frame.get(task.index, 0))

    def score(self, grid: Grid, before: Days) -> Score:
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
                broken += self.out.get((task.index, number), 0) > cast.out_until
                broken += poured > cast.pour_until
                lost += poured > cast.pour_by
        broken += len(self.crowded)
        return Score(broken, lost, late, self.moves(grid, before), length + len(batches))

    def moves(self, grid: Grid, before: Days) -> int:
        """How many steps stand on another day than before; one that was before today is not counted."""
        return sum(max(before.get(key, day), 0) != day for key, day in self.steps(grid))

    def steps(self, grid: Grid) -> list[tuple[tuple[str, Kind, str], int]]:
        """Every movable step with its day."""
        found: list[tuple[tuple[str, Kind, str], int]] = []
        for task in grid.tasks:
            key = task.job.key
            for number, cast in enumerate(task.casts):
                if cast.pour:
                    found.append(((key, "pour", cast.piece.key), self.pour[task.index, number]))
                if cast.out:
                    found.append(((key, "demould", cast.piece.key), self.out[task.index, number]))
            if task.frame:
                found.append(((key, "frame", ""), self.frame[task.index]))
        return found


class Load:
    """What is taken of each day, and what still fits."""

    def __init__(self, grid: Grid) -> None:
        self.grid = grid
        self.left = list(grid.minutes)
        self.framing_left = list(grid.framing)
        self.moulds = [0] * (NEVER + 1)
        self.slurry_ml = [0.0] * (NEVER + 1)
        self.batches: Counter[tuple[int, tuple[str, str]]] = Counter()
        self.rack = [sum(task.lying for task in grid.tasks)] * (NEVER + 1)

    def take(self, task: Task, made: Draft) -> None:
        """All steps of a job as they stand in a draft."""
        for number, cast in enumerate(task.casts):
            where = (task.index, number)
            if cast.pour and made.pour[where] < NEVER:
                self.pour(made.pour[where], cast)
            if cast.out and made.out[where] < NEVER:
                self.demould(made.out[where])
                if where not in made.crowded:
                    self.lie(made.out[where], made.frame[task.index])
        if task.frame and made.frame[task.index] < NEVER:
            self.frame(made.frame[task.index], task)

    def take_pins(self, task: Task) -> None:
        """What the owner pinned stands first, whether it fits or not."""
        for cast in task.casts:
            if cast.pour and cast.pour_pinned:
                self.pour(cast.pour[0], cast)
            if cast.out and cast.out_pinned:
                self.demould(cast.out[0])
        if task.frame_pinned:
            self.frame(task.frame_from, task)

    def pour_minutes(self, day: int, cast: Cast) -> int | None:
        """Minutes that pouring it too would take on that day; None where no bucket is left."""
        grid = self.grid
        before = grid.pourings(self.moulds[day], self.slurry_ml[day])
        after = grid.pourings(self.moulds[day] + 1, self.slurry_ml[day] + grid.volume_ml(cast))
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
        """Frame it then: its casts that lie on the rack free their places."""
        minutes = self.frame_minutes(day, task)
        self.left[day] -= minutes
        self.framing_left[day] -= minutes
        self.batches[day, task.job.batch] += 1
        if task.lying:
            freed = task.lying
            self.rack[day:] = [taken - freed for taken in self.rack[day:]]

    def lie(self, first: int, until: int) -> None:
        for day in range(first, until):
            self.rack[day] += 1
