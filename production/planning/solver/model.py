"""Inputs and results of planning: jobs, the bench, the plan with its steps. Dates are local calendar days.

Each piece of a job is poured, demoulded and dried; when all are dry the job is framed, its finish cures, and it is
handed over. A cast takes a place on the drying rack from the day of its demoulding up to, not including, the day of
its framing.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from math import ceil
from typing import Literal

from production.schedule import reasons
from production.schedule.reasons import Reason

Method = Literal["quick", "solved"]

Kind = Literal["pour", "demould", "weigh", "frame", "ready", "hand_over"]

# Steps that can be pinned, and that count as moved between two plans; the others follow from these.
MOVABLE: tuple[Kind, ...] = ("pour", "demould", "frame", "hand_over")

DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Drying:
    """Forecast of the days from demoulding to dry, as three quantiles: 10 %, 50 % and 90 %.

    Raises ValueError unless 0 <= early <= likely <= late.
    """

    early_days: float
    likely_days: float
    late_days: float

    def __post_init__(self) -> None:
        if not 0 <= self.early_days <= self.likely_days <= self.late_days:
            raise ValueError("Drying takes no negative days, and early comes before late.")

    @property
    def safe_days(self) -> int:
        """Whole days after which 90 % of such pieces are dry: framing is planned for then."""
        return ceil(self.late_days)


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece and how far it has come. `key` is unique within its job.

    Not poured yet: `pour_from` is the day of its print (past or future), `pour_by` the last day on which its clay may
    be poured. After that `poured_on`, then `demoulded_on`, and `on_rack` tells whether it takes a place on the drying
    rack. `is_dry`: judged dry. `drying` counts from demoulding and is ignored once `is_dry`.
    Raises ValueError for a piece not poured without both days of its clay, or with them in the wrong order.
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
    """A step that the owner has fixed to a day.

    `piece` is the piece's key for a pour or a demoulding; empty, the pin holds for all pieces of the job.
    """

    kind: Kind
    on: date
    piece: str = ""


@dataclass(frozen=True, slots=True)
class Job:
    """One open job. `key` is unique among all jobs.

    `frame_minutes` is the framing time left; jobs with the same `finish` and `backing` on one day share one set-up. The
    finish cures for `cure_days` nights before the job is ready. `framed_on`: framed and curing; `is_ready`: only the
    hand-over is left. Sent on a courier day if `by_courier`, else collected on any open day. Each day after
    `promised_on` counts `weight` times; without a promise the job is never late.
    Only `pieces` are planned and no framing unless `is_whole`: it has pieces without a sitting.
    Raises ValueError for negative times, a weight below 1, or no piece before framing.
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
    is_whole: bool = True
    pins: tuple[Pin, ...] = ()

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
    """Capacity of the bench.

    `minutes_by_weekday`: working minutes on Monday to Sunday, 0 on a day without work. `days_off`: dates without any
    work or hand-over. `opened_minutes`: dates whose minutes differ from their weekday's (a Saturday worked, a short
    day). `taken_minutes`: minutes of a date used for other things (sittings, weighing, paperwork); the day stays open.

    One pouring is one bucket: at most `moulds_per_pour` moulds and `bucket_ml` of slurry, `pour_minutes` long, at most
    `pours_per_day`. A cast leaves its mould `mould_days` after pouring (0: the same day) and takes `demould_minutes`.
    `rack_places` casts can dry at once. Framing uses at most `framing_minutes_per_day` of a day's minutes, with
    `setup_minutes` for each pair of finish and backing. `courier_weekdays`: 0 is Monday; open days only.
    Raises ValueError for a bench on which nothing could be poured, demoulded or framed.
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
        """Working minutes of a day that are not taken by other things."""
        return max(0, self._whole_minutes(on) - self.taken_minutes.get(on, 0))

    def courier_comes(self, on: date) -> bool:
        return self.is_open(on) and on.weekday() in self.courier_weekdays

    def _whole_minutes(self, on: date) -> int:
        if on in self.days_off:
            return 0
        return self.opened_minutes.get(on, self.minutes_by_weekday[on.weekday()])


@dataclass(frozen=True, slots=True)
class Step:
    """One step on its planned day, and why that day.

    `latest_on` is the last day that would not make the job later than promised (or than planned, if that is later).
    `moved_from` is its day in the previous plan, if another one, and `moved_why` the reason for the move. `minutes`
    exclude the set-up that a batch shares.
    """

    kind: Kind
    on: date
    piece: str = ""
    reason: Reason = ()
    latest_on: date | None = None
    pinned: bool = False
    minutes: int = 0
    moved_from: date | None = None
    moved_reason: Reason = ()

    @property
    def why(self) -> str:
        return reasons.words(self.reason, self.on)

    @property
    def moved_why(self) -> str:
        return reasons.words(self.moved_reason, self.on)

    @property
    def slack_days(self) -> int | None:
        return None if self.latest_on is None else (self.latest_on - self.on).days


@dataclass(frozen=True, slots=True)
class JobPlan:
    """One job's steps in the order of their days.

    `home_on` is the day of hand-over, `late_days` the calendar days after the promise (0 if kept, or without one).
    `warnings` are sentences: a pin that cannot be kept, clay that will be too dry, a cast without a rack place. A job
    that cannot be planned has no `home_on`, no `steps`, and a warning that says why.
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
        """Reason why the job is not handed over sooner: that of its framing, else of its next step; "" if none."""
        for kind in ("frame", "ready", "hand_over"):
            for step in self.steps:
                if step.kind == kind and step.why:
                    return step.why
        return ""


@dataclass(frozen=True, slots=True, order=True)
class Score:
    """What plans are compared by: less is better, and the first field that differs decides.

    `broken`: jobs that cannot be planned, pins that cannot be kept, casts without a rack place. `lost_prints`: pieces
    poured after the last day of their clay. `late_days`: calendar days after the promise, each times the job's weight,
    summed over all jobs. `moves`: steps on another day than in the previous plan. `length`: days from today to each
    framing, summed, plus one for each batch set up.
    """

    broken: int = 0
    lost_prints: int = 0
    late_days: int = 0
    moves: int = 0
    length: int = 0


@dataclass(frozen=True, slots=True)
class Plan:
    """A plan of all open jobs as of `today`.

    `bound_late_days` is a proven lower bound: no plan with as few broken rules and lost prints has fewer late days.
    """

    today: date
    jobs: tuple[JobPlan, ...]
    score: Score
    method: Method
    bound_late_days: int = 0

    @property
    def gap_days(self) -> int:
        """The most late days that a better plan could save; 0 means that none is less late."""
        return self.score.late_days - self.bound_late_days

    @property
    def is_proven(self) -> bool:
        return self.gap_days == 0

    def job_plan(self, key: str) -> JobPlan | None:
        return next((job for job in self.jobs if job.key == key), None)
