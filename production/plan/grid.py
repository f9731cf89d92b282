"""The same facts in whole days counted from today (0), as the planners work with them."""

from collections.abc import Iterable
from copy import copy
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property

from production.plan.facts import DAY, Bench, Job, Piece, Pin
from studio import units

# Two years: what cannot be done by then is not planned.
NEVER = 730


@dataclass(slots=True)
class Cast:
    """One piece. `pour` is its window of days, None once poured; `out` its window of demoulding, None once out.

    A pin makes a window of one day. `pour_by` is the last day of its clay: pouring later loses the print.
    `dry` counts from demoulding, or from today once it is out.
    """

    piece: Piece
    dry: int
    pour: tuple[int, int] | None = None
    pour_by: int = NEVER
    out: tuple[int, int] | None = None
    on_rack: bool = True
    pour_pinned: bool = False
    out_pinned: bool = False

    @property
    def pour_until(self) -> int:
        return self.pour[1] if self.pour else NEVER

    @property
    def out_from(self) -> int:
        return self.out[0] if self.out else 0

    @property
    def out_until(self) -> int:
        return self.out[1] if self.out else NEVER


@dataclass(slots=True)
class Task:
    """One job. `frame` is its window of framing days, None once it is framed; then `cured` is the day.

    `lying` are the places on the rack that it takes now, until it is framed.
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
    lying: int = 0
    warnings: list[str] = field(default_factory=list)

    @property
    def frame_from(self) -> int:
        return self.frame[0] if self.frame else 0

    @property
    def frame_until(self) -> int:
        return self.frame[1] if self.frame else NEVER

    @property
    def dry(self) -> int:
        """The day by which the casts that are out are dry."""
        return max((cast.dry for cast in self.casts if cast.out is None), default=0)

    @property
    def is_out(self) -> bool:
        return all(cast.out is None for cast in self.casts)


class Grid:
    """The calendar from `today` and the jobs, in days."""

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
        self._leave_beside_the_rack()

    @cached_property
    def volume_a_day_ml(self) -> float:
        return self.bench.bucket_ml * self.bench.pours_per_day

    def without(self, days: Iterable[int]) -> "Grid":
        """The same jobs, to be changed at will, on a calendar that has lost these days."""
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
        """The first working day from `day` on; NEVER where none comes."""
        return self._next_open[max(day, 0)] if day <= NEVER else NEVER

    def ready(self, task: Task, framed: int) -> int:
        return self.next_open(framed + task.job.cure_days if task.frame else task.cured)

    def open_until(self, day: int, first: int) -> int:
        """The last working day up to `day`, but not before `first`."""
        while day > first and not self.open[min(day, NEVER)]:
            day -= 1
        return max(day, first)

    def home(self, task: Task, framed: int) -> int:
        """The day of hand-over of a job framed then: the first one allowed, or the pinned one."""
        ready = self.ready(task, framed)
        if task.home_pin is not None and task.home_pin >= ready:
            return task.home_pin
        if not task.job.by_courier:
            return ready
        return self._next_courier[ready]

    def earliest_frame(self, task: Task) -> int:
        """The first day on which it could be framed with the bench to itself."""
        if task.frame_pinned:
            return task.frame_from
        return self.next_open(_dry_earliest(self, task)) if task.frame else 0

    def alone_late_days(self, task: Task) -> int:
        """How late the job is with the bench to itself; not weighted."""
        return self.late_days(task, self.home(task, self.earliest_frame(task)))

    def late_days(self, task: Task, home: int) -> int:
        return 0 if task.promised is None else max(0, home - task.promised)

    def pourings(self, casts: int, volume_ml: float) -> int:
        """How many bucketfuls so many casts take."""
        by_moulds = -(-casts // self.bench.moulds_per_pour)
        return max(by_moulds, int(-(-volume_ml // self.bench.bucket_ml)))

    def volume_ml(self, cast: Cast) -> float:
        """At most what a day can pour: a piece larger than that takes a whole day's buckets."""
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
        _settle_pins(self, task)
        return task

    def _cast(self, piece: Piece) -> Cast:
        safe_days = piece.drying.safe_days
        if piece.is_dry:
            return Cast(piece, 0, on_rack=piece.on_rack and piece.demoulded_on is not None)
        if piece.demoulded_on:
            dry = max(0, self.day(piece.demoulded_on) + safe_days)
            return Cast(piece, dry, on_rack=piece.on_rack)
        if piece.poured_on:
            out_from = max(0, self.day(piece.poured_on) + self.bench.mould_days)
            return Cast(piece, safe_days, out=(out_from, NEVER))
        pour_from = max(0, self.day(piece.pour_from))
        return Cast(
            piece,
            safe_days,
            pour=(pour_from, NEVER),
            pour_by=max(0, self.day(piece.pour_by)),
            out=(pour_from + self.bench.mould_days, NEVER),
        )

    def _leave_beside_the_rack(self) -> None:
        """Casts beyond the places, as they are now, lie elsewhere until they are framed."""
        lying = [
            cast for task in self.tasks for cast in task.casts if cast.out is None and cast.on_rack
        ]
        for cast in lying[self.bench.rack_places :]:
            cast.on_rack = False
        for task in self.tasks:
            task.lying = sum(cast.out is None and cast.on_rack for cast in task.casts)


def _next(days: list[bool]) -> list[int]:
    following, found = NEVER, []
    for day in range(NEVER, -1, -1):
        if days[day]:
            following = day
        found.append(following)
    return found[::-1]


# --- pins -------------------------------------------------------------------------------------


def _settle_pins(grid: Grid, task: Task) -> None:
    """Turn pins into windows, the first step first; a pin that cannot be kept at all becomes a warning."""
    pins: dict[tuple[str, str], Pin] = {(pin.kind, pin.piece): pin for pin in task.job.pins}
    for cast in task.casts:
        _pin_pour(grid, task, cast, _pin_of(pins, "pour", cast))
        _pin_out(grid, task, cast, _pin_of(pins, "demould", cast))
    _pin_frame(grid, task, pins.get(("frame", "")))
    _pin_home(grid, task, pins.get(("hand_over", "")))


def _pin_of(pins: dict[tuple[str, str], Pin], kind: str, cast: Cast) -> Pin | None:
    return pins.get((kind, cast.piece.key)) or pins.get((kind, ""))


def _pin_pour(grid: Grid, task: Task, cast: Cast, pin: Pin | None) -> None:
    if pin is None or cast.pour is None or cast.out is None:
        return
    if _refused(grid, task, pin, cast.pour[0], "its print is taken"):
        return
    day = grid.day(pin.on)
    cast.pour, cast.pour_pinned = (day, day), True
    cast.out = (day + grid.bench.mould_days, cast.out[1])


def _pin_out(grid: Grid, task: Task, cast: Cast, pin: Pin | None) -> None:
    if pin is None or cast.out is None:
        return
    if _refused(grid, task, pin, _out_earliest(grid, cast), "it has set in its mould"):
        return
    day = grid.day(pin.on)
    cast.out, cast.out_pinned = (day, day), True
    _pour_until(grid, cast, day - grid.bench.mould_days)


def _pin_frame(grid: Grid, task: Task, pin: Pin | None) -> None:
    if pin is None or task.frame is None:
        return
    first = max((_out_earliest(grid, cast) + 1 for cast in task.casts if cast.out), default=0)
    if _refused(grid, task, pin, first, "its casts are out of their moulds"):
        return
    day = grid.day(pin.on)
    task.frame, task.frame_pinned = (day, day), True
    if day < _dry_earliest(grid, task):
        task.warnings.append(
            f"You pinned its framing to {units.day(pin.on)}: it is dry by then in fewer than nine cases of ten."
        )
    _out_until(grid, task, day - 1)


def _pin_home(grid: Grid, task: Task, pin: Pin | None) -> None:
    if pin is None:
        return
    framed = task.frame[0] if task.frame and task.frame_pinned else _dry_earliest(grid, task)
    if not task.frame_pinned:
        framed = grid.next_open(framed)
    if _refused(grid, task, pin, grid.ready(task, framed), "it is ready"):
        return
    day = task.home_pin = grid.day(pin.on)
    if task.frame is None or task.frame_pinned:
        return
    latest = max(framed, day - task.job.cure_days)
    while grid.ready(task, latest) > day:
        latest -= 1
    task.frame = (0, latest)
    for cast in task.casts:
        if cast.out and not cast.out_pinned:
            cast.out = (cast.out[0], max(cast.out[0], latest - cast.dry))
            _pour_until(grid, cast, cast.out[1] - grid.bench.mould_days)


def _refused(grid: Grid, task: Task, pin: Pin, first: int, since: str) -> bool:
    """Whether the pin lies before the step can be done, or beyond all planning; a warning then says so."""
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


def _out_earliest(grid: Grid, cast: Cast) -> int:
    """The first day on which it could come out of its mould, with nothing else to do."""
    if cast.out is None:
        return 0
    if cast.out_pinned:
        return cast.out[0]
    if cast.pour is None:
        return grid.next_open(cast.out[0])
    poured = cast.pour[0] if cast.pour_pinned else grid.next_open(cast.pour[0])
    return grid.next_open(max(cast.out[0], poured + grid.bench.mould_days))


def _dry_earliest(grid: Grid, task: Task) -> int:
    days = (cast.dry + (_out_earliest(grid, cast) if cast.out else 0) for cast in task.casts)
    return max(days, default=0)


def _out_until(grid: Grid, task: Task, day: int) -> None:
    for cast in task.casts:
        if cast.out and not cast.out_pinned:
            cast.out = (cast.out[0], day)
            _pour_until(grid, cast, day - grid.bench.mould_days)


def _pour_until(grid: Grid, cast: Cast, day: int) -> None:
    if cast.pour and not cast.pour_pinned:
        cast.pour = (cast.pour[0], max(cast.pour[0], day))
