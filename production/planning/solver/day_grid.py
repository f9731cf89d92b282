"""Jobs and bench in whole days counted from today (0), with pins turned into windows of days."""

from collections.abc import Iterable
from copy import copy
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property

from production.planning.solver.model import DAY, Bench, Job, Piece, Pin
from studio import units

# Two years: what cannot be done by then is not planned.
NEVER = 730


@dataclass(slots=True)
class Cast:
    """One piece in days. `pour` and `demould` are windows (first, last), None once that is done.

    A pin makes a window of one day. `pour_by` is the last day of its clay: pouring later loses the print.
    `dry` is the days until dry at 90 %, counted from demoulding, or from today once it is demoulded.
    """

    piece: Piece
    dry: int
    pour: tuple[int, int] | None = None
    pour_by: int = NEVER
    demould: tuple[int, int] | None = None
    on_rack: bool = True
    pour_pinned: bool = False
    demould_pinned: bool = False

    @property
    def pour_until(self) -> int:
        return self.pour[1] if self.pour else NEVER

    @property
    def demould_from(self) -> int:
        return self.demould[0] if self.demould else 0

    @property
    def demould_until(self) -> int:
        return self.demould[1] if self.demould else NEVER


@dataclass(slots=True)
class Task:
    """One job in days. `frame` is its window of framing, None once framed; `cured`: the day its finish has cured then.

    `minutes` is the framing time, `home_pin` the pinned day of hand-over, `places_taken` the rack places that its casts
    take now and until it is framed.
    """

    index: int
    job: Job
    casts: list[Cast]
    minutes: int
    promised: int | None
    frame: tuple[int, int] | None = (0, NEVER)
    cured: int = 0
    frame_pinned: bool = False
    home_pin: int | None = None
    places_taken: int = 0
    warnings: list[str] = field(default_factory=list)

    @property
    def frame_from(self) -> int:
        return self.frame[0] if self.frame else 0

    @property
    def frame_until(self) -> int:
        return self.frame[1] if self.frame else NEVER

    @property
    def dry(self) -> int:
        """The day by which all demoulded casts are dry; 0 without any."""
        return max((cast.dry for cast in self.casts if cast.demould is None), default=0)

    @property
    def is_demoulded(self) -> bool:
        return all(cast.demould is None for cast in self.casts)


class Grid:
    """The calendar of `NEVER` days from `today`, the bench, and one task for each job."""

    def __init__(self, jobs: Iterable[Job], bench: Bench, today: date) -> None:
        self.bench = bench
        self.today = today
        days = [today + number * DAY for number in range(NEVER + 1)]
        self.open = [bench.is_open(on) for on in days]
        self.minutes = [bench.minutes(on) for on in days]
        self.framing = [min(left, bench.framing_minutes_per_day) for left in self.minutes]
        self.courier = [bench.courier_comes(on) for on in days]
        self._next_open = _next(self.open)
        self._next_courier = _next(self.courier)
        longest = max(self.framing) or bench.framing_minutes_per_day
        self.longest_framing = max(longest - bench.setup_minutes, 0)
        self.tasks = [self._task(number, job) for number, job in enumerate(jobs)]
        self._move_excess_off_rack()

    @cached_property
    def volume_a_day_ml(self) -> float:
        return self.bench.bucket_ml * self.bench.pours_per_day

    def with_lost_days(self, days: Iterable[int]) -> "Grid":
        """Copy the grid, its tasks included, with these days closed."""
        other = copy(self)
        other.open = list(self.open)
        other.minutes, other.framing = list(self.minutes), list(self.framing)
        other.courier = list(self.courier)
        for day in days:
            other.open[day] = other.courier[day] = False
            other.minutes[day] = other.framing[day] = 0
        other._next_open, other._next_courier = _next(other.open), _next(other.courier)
        other.tasks = [
            replace(task, casts=[replace(cast) for cast in task.casts]) for task in self.tasks
        ]
        return other

    def day(self, on: date | None) -> int:
        return 0 if on is None else (on - self.today).days

    def date(self, day: int) -> date:
        return self.today + day * DAY

    def next_open(self, day: int) -> int:
        """The first working day from `day` on; NEVER if there is none."""
        return self._next_open[max(day, 0)] if day <= NEVER else NEVER

    def ready(self, task: Task, framed: int) -> int:
        return self.next_open(framed + task.job.cure_days if task.frame else task.cured)

    def open_until(self, day: int, first: int) -> int:
        """The last working day from `first` to `day`; `first` if there is none."""
        while day > first and not self.open[min(day, NEVER)]:
            day -= 1
        return max(day, first)

    def home(self, task: Task, framed: int) -> int:
        """The day of hand-over of a job framed on day `framed`: the pinned one if possible, else the first allowed."""
        ready = self.ready(task, framed)
        if task.home_pin is not None and task.home_pin >= ready:
            return task.home_pin
        if not task.job.by_courier:
            return ready
        return self._next_courier[ready]

    def earliest_frame(self, task: Task) -> int:
        """The first day on which the job could be framed if it had the bench to itself."""
        if task.frame_pinned:
            return task.frame_from
        return self.next_open(_dry_earliest(self, task)) if task.frame else 0

    def alone_late_days(self, task: Task) -> int:
        """Days late if the job had the bench to itself, not weighted."""
        return self.late_days(task, self.home(task, self.earliest_frame(task)))

    def late_days(self, task: Task, home: int) -> int:
        return 0 if task.promised is None else max(0, home - task.promised)

    def bucketfuls(self, casts: int, volume_ml: float) -> int:
        """Number of buckets for so many casts of this volume together."""
        by_moulds = -(-casts // self.bench.moulds_per_pour)
        return max(by_moulds, int(-(-volume_ml // self.bench.bucket_ml)))

    def volume_ml(self, cast: Cast) -> float:
        """Slurry for one cast in ml, at most what a whole day can pour."""
        return min(cast.piece.volume_ml, self.volume_a_day_ml)

    def _task(self, index: int, job: Job) -> Task:
        task = Task(
            index,
            job,
            [self._cast(piece) for piece in job.pieces],
            minutes=min(job.frame_minutes, self.longest_framing),
            promised=None if job.promised_on is None else self.day(job.promised_on),
        )
        if job.is_ready or job.framed_on:
            task.casts, task.frame = [], None
            framed_on = job.framed_on or self.today - job.cure_days * DAY
            task.cured = max(0, self.day(framed_on) + job.cure_days if not job.is_ready else 0)
        elif task.minutes < job.frame_minutes:
            task.warnings.append(
                "Its framing takes longer than any day of yours: it takes a whole one."
            )
        _apply_pins(self, task)
        return task

    def _cast(self, piece: Piece) -> Cast:
        safe_days = piece.drying.safe_days
        if piece.is_dry:
            return Cast(piece, 0, on_rack=piece.on_rack and piece.demoulded_on is not None)
        if piece.demoulded_on:
            dry = max(0, self.day(piece.demoulded_on) + safe_days)
            return Cast(piece, dry, on_rack=piece.on_rack)
        if piece.poured_on:
            demould_from = max(0, self.day(piece.poured_on) + self.bench.mould_days)
            return Cast(piece, safe_days, demould=(demould_from, NEVER))
        pour_from = max(0, self.day(piece.pour_from))
        return Cast(
            piece,
            safe_days,
            pour=(pour_from, NEVER),
            pour_by=max(0, self.day(piece.pour_by)),
            demould=(pour_from + self.bench.mould_days, NEVER),
        )

    def _move_excess_off_rack(self) -> None:
        """Let the casts that exceed the rack's places today take none: they lie elsewhere until framed."""
        places_taken = [
            cast
            for task in self.tasks
            for cast in task.casts
            if cast.demould is None and cast.on_rack
        ]
        for cast in places_taken[self.bench.rack_places :]:
            cast.on_rack = False
        for task in self.tasks:
            task.places_taken = sum(cast.demould is None and cast.on_rack for cast in task.casts)


def _next(days: list[bool]) -> list[int]:
    following, found = NEVER, []
    for day in range(NEVER, -1, -1):
        if days[day]:
            following = day
        found.append(following)
    return found[::-1]


def _apply_pins(grid: Grid, task: Task) -> None:
    """Turn the job's pins into windows, in the order of its steps; a pin that cannot be kept becomes a warning."""
    pins: dict[tuple[str, str], Pin] = {(pin.kind, pin.piece): pin for pin in task.job.pins}
    for cast in task.casts:
        _pin_pour(grid, task, cast, _pin_of(pins, "pour", cast))
        _pin_demoulding(grid, task, cast, _pin_of(pins, "demould", cast))
    _pin_frame(grid, task, pins.get(("frame", "")))
    _pin_hand_over(grid, task, pins.get(("hand_over", "")))


def _pin_of(pins: dict[tuple[str, str], Pin], kind: str, cast: Cast) -> Pin | None:
    return pins.get((kind, cast.piece.key)) or pins.get((kind, ""))


def _pin_pour(grid: Grid, task: Task, cast: Cast, pin: Pin | None) -> None:
    if pin is None or cast.pour is None or cast.demould is None:
        return
    if _reject_pin(grid, task, pin, cast.pour[0], "its print is taken"):
        return
    day = grid.day(pin.on)
    cast.pour, cast.pour_pinned = (day, day), True
    cast.demould = (day + grid.bench.mould_days, cast.demould[1])


def _pin_demoulding(grid: Grid, task: Task, cast: Cast, pin: Pin | None) -> None:
    if pin is None or cast.demould is None:
        return
    if _reject_pin(grid, task, pin, _demould_earliest(grid, cast), "it has set in its mould"):
        return
    day = grid.day(pin.on)
    cast.demould, cast.demould_pinned = (day, day), True
    _pour_until(grid, cast, day - grid.bench.mould_days)


def _pin_frame(grid: Grid, task: Task, pin: Pin | None) -> None:
    if pin is None or task.frame is None:
        return
    first = max(
        (_demould_earliest(grid, cast) + 1 for cast in task.casts if cast.demould), default=0
    )
    if _reject_pin(grid, task, pin, first, "its casts are out of their moulds"):
        return
    day = grid.day(pin.on)
    task.frame, task.frame_pinned = (day, day), True
    if day < _dry_earliest(grid, task):
        task.warnings.append(
            f"You pinned its framing to {units.day(pin.on)}: it is dry by then in fewer than nine cases of ten."
        )
    _demould_until(grid, task, day - 1)


def _pin_hand_over(grid: Grid, task: Task, pin: Pin | None) -> None:
    if pin is None:
        return
    framed = task.frame[0] if task.frame and task.frame_pinned else _dry_earliest(grid, task)
    if not task.frame_pinned:
        framed = grid.next_open(framed)
    if _reject_pin(grid, task, pin, grid.ready(task, framed), "it is ready"):
        return
    day = task.home_pin = grid.day(pin.on)
    if task.frame is None or task.frame_pinned:
        return
    latest = max(framed, day - task.job.cure_days)
    while grid.ready(task, latest) > day:
        latest -= 1
    task.frame = (0, latest)
    for cast in task.casts:
        if cast.demould and not cast.demould_pinned:
            cast.demould = (cast.demould[0], max(cast.demould[0], latest - cast.dry))
            _pour_until(grid, cast, cast.demould[1] - grid.bench.mould_days)


def _reject_pin(grid: Grid, task: Task, pin: Pin, first: int, since: str) -> bool:
    """Whether a pin cannot be kept: in the past, beyond two years, or before day `first`. Adds the warning."""
    words = f"You pinned “{pin.kind.replace('_', ' ')}” to {units.day(pin.on)}"
    if pin.on < grid.today:
        task.warnings.append(f"{words}; it was not done and moves on.")
        return True
    if grid.day(pin.on) > NEVER:
        task.warnings.append(f"{words}, more than two years ahead: check the year.")
        return True
    if grid.day(pin.on) < first:
        task.warnings.append(f"{words}, but only on {units.day(grid.date(first))} {since}.")
        return True
    return False


def _demould_earliest(grid: Grid, cast: Cast) -> int:
    """The first day on which the cast could be demoulded on an empty bench; 0 once it is."""
    if cast.demould is None:
        return 0
    if cast.demould_pinned:
        return cast.demould[0]
    if cast.pour is None:
        return grid.next_open(cast.demould[0])
    poured = cast.pour[0] if cast.pour_pinned else grid.next_open(cast.pour[0])
    return grid.next_open(max(cast.demould[0], poured + grid.bench.mould_days))


def _dry_earliest(grid: Grid, task: Task) -> int:
    days = (
        cast.dry + (_demould_earliest(grid, cast) if cast.demould else 0) for cast in task.casts
    )
    return max(days, default=0)


def _demould_until(grid: Grid, task: Task, day: int) -> None:
    for cast in task.casts:
        if cast.demould and not cast.demould_pinned:
            cast.demould = (cast.demould[0], day)
            _pour_until(grid, cast, day - grid.bench.mould_days)


def _pour_until(grid: Grid, cast: Cast, day: int) -> None:
    if cast.pour and not cast.pour_pinned:
        cast.pour = (cast.pour[0], max(cast.pour[0], day))
