"""What a plan is made from and what it says. Dates are local calendar days, `_minutes` whole minutes.

A job's pieces are each poured, demoulded and dried; when all are dry the job is framed, its finish cures,
and it goes home. A piece lies on a rack place from the day it is demoulded until the day its job is
framed; on that day the place is free again.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from math import ceil
from typing import Literal

Kind = Literal["pour", "demould", "weigh", "frame", "ready", "hand_over"]
# What can be pinned and what counts as moved; the others follow from these.
MOVABLE: tuple[Kind, ...] = ("pour", "demould", "frame", "hand_over")
DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Drying:
    """Days from demoulding to dry: one in ten before `early_days`, half before `likely_days`, one in ten after
    `late_days`. Framing is planned for the day by which it is dry with 90 %."""

    early_days: float
    likely_days: float
    late_days: float

    def __post_init__(self) -> None:
        if not 0 <= self.early_days <= self.likely_days <= self.late_days:
            raise ValueError("Drying takes no negative days, and early comes before late.")

    @property
    def safe_days(self) -> int:
        """Whole days after which 90 % of such pieces are dry."""
        return ceil(self.late_days)


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece and how far it is. `key` is its own within the job.

    Not poured: `pour_from` is the day of its print (past or to come), `pour_by` the last day on which the clay
    may still be poured (not before `pour_from`). Poured: `poured_on`. Out of the mould: `demoulded_on`; then
    `on_rack` says whether it takes a place. `is_dry` when the gate let it go. `drying` counts from
    demoulding, for a piece on the rack as for one to come; it is not read where `is_dry`.
    """

    key: str
    drying: Drying
    pour_from: date | None = None
    pour_by: date | None = None
    poured_on: date | None = None
    demoulded_on: date | None = None
    is_dry: bool = False
    on_rack: bool = True
    volume_ml: float = 0.0
    weighed_on: date | None = None

    def __post_init__(self) -> None:
        if self.demoulded_on or self.poured_on or self.is_dry:
            return
        if self.pour_from is None or self.pour_by is None:
            raise ValueError(f"The piece {self.key} is not poured: it needs the days of its clay.")
        if self.pour_by < self.pour_from:
            raise ValueError(f"The piece {self.key} would have to be poured before its print.")


@dataclass(frozen=True, slots=True)
class Pin:
    """The owner's word that a step stays on a day; `piece` is the piece's key for a pour or a demoulding.

    One `Pin` with an empty `piece` speaks for all pieces of the job.
    """

    kind: Kind
    on: date
    piece: str = ""


@dataclass(frozen=True, slots=True)
class Job:
    """One open job. `key` is its own among all jobs, `name` is what reasons call it.

    `frame_minutes` are what its framing still takes; jobs of the same `finish` and `backing` on one day share one
    set-up. The finish cures for `cure_days` nights before the job is ready. `framed_on`: framed, and
    curing; `is_ready`: only to be handed over. `by_courier` goes on courier days, else it is collected on any
    open day. A day late counts `weight` times. No `promised_on`: it is never late.
    """

    key: str
    pieces: tuple[Piece, ...]
    promised_on: date | None = None
    frame_minutes: int = 60
    finish: str = ""
    backing: str = ""
    cure_days: int = 1
    by_courier: bool = False
    weight: int = 1
    framed_on: date | None = None
    is_ready: bool = False
    pins: tuple[Pin, ...] = ()
    name: str = ""

    def __post_init__(self) -> None:
        if self.frame_minutes < 0 or self.cure_days < 0:
            raise ValueError(f"The job {self.key} cannot take negative time.")
        if self.weight < 1:
            raise ValueError(f"The job {self.key} must count at least once.")
        if not self.pieces and self.framed_on is None and not self.is_ready:
            raise ValueError(f"The job {self.key} has no piece to plan.")

    @property
    def batch(self) -> tuple[str, str]:
        return (self.finish, self.backing)


@dataclass(frozen=True, slots=True)
class Bench:
    """What the bench can do.

    `minutes_by_weekday`: minutes at the bench on Monday … Sunday, 0 on a day on which the owner does not work.
    `days_off`: dates without any work or hand-over. `opened_minutes`: dates that have other minutes than their
    weekday (a Saturday worked, a short day). `taken_minutes`: minutes of a date that are gone for other things
    (sittings, weighing, paper): the day stays open, for a hand-over too.

    A pouring is one bucket: at most `moulds_per_pour` moulds and `bucket_ml` of slurry, `pour_minutes` long, at most
    `pours_per_day` on a day. A cast comes out of its mould `mould_days` after pouring (0: the same day) in
    `demould_minutes`. `rack_places` casts can dry. Framing takes at most `framing_minutes_per_day` of a day's minutes,
    `setup_minutes` for each finish and backing of that day included.
    `courier_weekdays`: 0 is Monday; a courier comes on open days only.
    """

    minutes_by_weekday: tuple[int, int, int, int, int, int, int] = (240, 240, 240, 240, 240, 0, 0)
    days_off: frozenset[date] = frozenset()
    opened_minutes: Mapping[date, int] = field(default_factory=dict)
    taken_minutes: Mapping[date, int] = field(default_factory=dict)
    moulds_per_pour: int = 4
    pours_per_day: int = 2
    bucket_ml: float = 2000.0
    pour_minutes: int = 30
    mould_days: int = 0
    demould_minutes: int = 10
    rack_places: int = 24
    framing_minutes_per_day: int = 180
    setup_minutes: int = 20
    courier_weekdays: frozenset[int] = frozenset({0, 1, 2, 3, 4})

    def __post_init__(self) -> None:
        counts = (self.moulds_per_pour, self.pours_per_day, self.rack_places)
        if min(counts) < 1 or self.bucket_ml <= 0:
            raise ValueError("A bench has at least one mould, one pouring a day and one place.")
        lengths = (self.pour_minutes, self.demould_minutes, self.setup_minutes, self.mould_days)
        if min(*lengths, *self.minutes_by_weekday) < 0:
            raise ValueError("Minutes and days of the bench cannot be negative.")
        if self.longest_day_minutes < self.pour_minutes + self.demould_minutes:
            raise ValueError("No day is long enough to pour and demould on it.")
        if min(self.longest_day_minutes, self.framing_minutes_per_day) <= self.setup_minutes:
            raise ValueError("No day is long enough to set up for framing and frame.")

    @property
    def longest_day_minutes(self) -> int:
        return max(self.minutes_by_weekday)

    def is_open(self, on: date) -> bool:
        return self._whole_minutes(on) > 0

    def minutes(self, on: date) -> int:
        """What is left of a day for the bench."""
        return max(0, self._whole_minutes(on) - self.taken_minutes.get(on, 0))

    def courier_comes(self, on: date) -> bool:
        return self.is_open(on) and on.weekday() in self.courier_weekdays

    def _whole_minutes(self, on: date) -> int:
        if on in self.days_off:
            return 0
        return self.opened_minutes.get(on, self.minutes_by_weekday[on.weekday()])


@dataclass(frozen=True, slots=True)
class Step:
    """One step on one day, and why it stands there.

    `latest_on` is the last day that, by itself, makes the job no later than its promise (or than it is already):
    `slack_days` calendar days away. `moved_from` is its day in the plan before, where that was another one, with
    `moved_why`. `minutes` without the set-up that a batch shares.
    """

    kind: Kind
    on: date
    piece: str = ""
    why: str = ""
    latest_on: date | None = None
    pinned: bool = False
    minutes: int = 0
    moved_from: date | None = None
    moved_why: str = ""

    @property
    def slack_days(self) -> int | None:
        return None if self.latest_on is None else (self.latest_on - self.on).days


@dataclass(frozen=True, slots=True)
class JobPlan:
    """One job's steps in the order of their days.

    `home_on` is the day of its hand-over, `late_days` calendar days after the promise (0 where kept, or none
    given). `warnings` are sentences: a pin that cannot be kept, clay that will be too dry, a cast without a place.
    `home_on` is None and `steps` is empty where nothing can be planned; then `warnings` says why.
    """

    key: str
    steps: tuple[Step, ...]
    home_on: date | None
    promised_on: date | None = None
    late_days: int = 0
    warnings: tuple[str, ...] = ()

    @property
    def slack_days(self) -> int | None:
        if self.home_on is None or self.promised_on is None:
            return None
        return (self.promised_on - self.home_on).days

    @property
    def next_step(self) -> Step | None:
        return self.steps[0] if self.steps else None

    @property
    def why(self) -> str:
        """Why the job goes home no sooner: the reason of its framing, or of what is left."""
        for kind in ("frame", "ready", "hand_over"):
            for step in self.steps:
                if step.kind == kind and step.why:
                    return step.why
        return ""


@dataclass(frozen=True, slots=True, order=True)
class Score:
    """What plans are compared by, the first that differs decides, less is better.

    `broken`: jobs that cannot be planned, pins that no plan can keep, casts without a rack place (0 on a bench that can
    hold its jobs); `lost_prints`, pieces poured after the last day of their clay; `late_days`, the sum
    over jobs of calendar days after the promise, each times the job's weight; `moves`, steps on another day
    than in the plan before; `length`, days from today to each framing, plus one for each batch set up.
    """

    broken: int = 0
    lost_prints: int = 0
    late_days: int = 0
    moves: int = 0
    length: int = 0


@dataclass(frozen=True, slots=True)
class Plan:
    """A plan of all open jobs as seen on `today`.

    `bound_late_days` is proven: no plan that breaks and loses as little is less late.
    """

    today: date
    jobs: tuple[JobPlan, ...]
    score: Score
    method: Literal["quick", "solved"]
    bound_late_days: int = 0

    @property
    def gap_days(self) -> int:
        """How many late days, at most, a better plan could save; 0: this one is proven to be the best."""
        return self.score.late_days - self.bound_late_days

    @property
    def is_proven(self) -> bool:
        return self.gap_days == 0

    def of(self, key: str) -> JobPlan | None:
        return next((job for job in self.jobs if job.key == key), None)

    def on(self, day: date) -> list[tuple[JobPlan, Step]]:
        """What is to be done on one day, in the order of the jobs."""
        return [(job, step) for job in self.jobs for step in job.steps if step.on == day]
