"""Facts about jobs and pieces from which a week is planned. Pure; times are local."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Literal

from production import plaster
from production.drying.by_weight import EXCESS_SHARE

Kind = Literal["pour", "demould", "weigh", "frame", "hand_over"]

DAY = timedelta(days=1)


# Clay that must be poured in the morning is poured on the day before: a sitting may fill it.
NOT_LEFT_TO_THE_MORNING = time(12)

WORKING_DAY_HOURS = 8


@dataclass(frozen=True, slots=True)
class Habits:
    """A unit's rules: hours a print keeps in the clay, and hours that a cast stays in the mould."""

    clay_rest_hours: int = 24
    demould_hours: int = 2

    def pour_by(self, taken_at: datetime) -> datetime:
        """Return when the clay of a print becomes too dry to pour."""
        return taken_at + timedelta(hours=self.clay_rest_hours)

    def last_pour_day(self, taken_at: datetime) -> date:
        """Return the last day on which a print can be poured in time."""
        by = self.pour_by(taken_at)
        on = by.date() - DAY if by.time() < NOT_LEFT_TO_THE_MORNING else by.date()
        return max(on, taken_at.date())

    def demould_from(self, poured_at: datetime) -> datetime:
        """Return when the plaster has set."""
        return poured_at + timedelta(hours=self.demould_hours)

    @property
    def mould_days(self) -> int:
        """Days from pouring to demoulding: 0 if a cast can leave its mould on the day of its pouring."""
        return 0 if self.demould_hours <= WORKING_DAY_HOURS else -(-self.demould_hours // 24)


@dataclass(frozen=True, slots=True)
class Planned:
    """A step of the stored plan. `missed_on`: an earlier planned day on which it was not done."""

    kind: str
    on: date
    missed_on: date | None = None
    note: str = ""
    pinned: bool = False


@dataclass(frozen=True, slots=True)
class PieceFacts:
    """State of one piece.

    `taken_at`: time of its print (`is_taken`) or of its planned sitting, None without either. `dry_on`: the day it
    was found dry or, once demoulded, probably will be.
    """

    child: str
    limb: str
    taken_at: datetime | None = None
    is_taken: bool = False
    poured_at: datetime | None = None
    demoulded_on: date | None = None
    weighed_on: date | None = None
    last_g: float | None = None
    dry_on: date | None = None
    is_dry: bool = False
    rack_place: int | None = None
    plaster_g: float = 0
    water_g: float = 0
    planned: tuple[Planned, ...] = ()
    # The rows it was read from, for a page that writes.
    piece_pk: int = 0
    cast_pk: int = 0
    dry_g: float | None = None

    def expected_g(self, on: date) -> float | None:
        """Expected weight on a day in grams; None before its first weighing.

        Falls exponentially from the last weight to 0.5 % above the dry weight on the day it is probably dry, as free
        water does in the second stage of drying [trade].
        """
        if None in (self.last_g, self.weighed_on, self.dry_on, self.dry_g):
            return None
        last_g, dry_g = self.last_g or 0.0, self.dry_g or 0.0
        since, until = self.weighed_on or on, self.dry_on or on
        left_g, dry_left_g = last_g - dry_g, EXCESS_SHARE * dry_g
        if left_g <= dry_left_g or until <= since:
            return min(last_g, dry_g * (1 + EXCESS_SHARE))
        share = max((on - since).days, 0) / (until - since).days
        return dry_g + float(left_g * (dry_left_g / left_g) ** share)

    @property
    def needs(self) -> tuple[Kind, ...]:
        """The kinds of steps that it still needs before it is framed; none without a print or sitting."""
        if self.is_dry or not self.is_dated:
            return ()
        if self.demoulded_on:
            return ("weigh",)
        return ("demould", "weigh") if self.poured_at else ("pour", "demould", "weigh")

    @property
    def is_dated(self) -> bool:
        """Whether it has been poured or has at least a planned sitting; else it cannot be planned."""
        return self.poured_at is not None or self.taken_at is not None

    @property
    def slurry_ml(self) -> float:
        """Volume of its plaster and water together, ml."""
        return plaster.slurry_ml(self.plaster_g, self.water_g)

    @property
    def name(self) -> str:
        return f"{self.child}, {self.limb}"


@dataclass(frozen=True, slots=True)
class JobFacts:
    """State of one job: its pieces, promise, framing and planned steps."""

    reference: str
    names: str
    pieces: tuple[PieceFacts, ...]
    promised_on: date | None = None
    framing_since: date | None = None
    steps_done: tuple[str, ...] = ()
    is_ready: bool = False
    planned: tuple[Planned, ...] = ()

    @property
    def needs(self) -> tuple[Kind, ...]:
        """The kinds of steps that it still needs as a whole; none while a piece of it has no print or sitting."""
        if self.is_ready:
            return ("hand_over",)
        if self.framing_since or (self.pieces and all(piece.is_dated for piece in self.pieces)):
            return ("frame", "hand_over")
        return ()

    @property
    def framing_step(self) -> str:
        """The kind of the planned step that ends its framing: a sealed frame waits only until its finish has cured."""
        return "ready" if "sealed" in self.steps_done else "frame"

    @property
    def is_on_the_bench(self) -> bool:
        """Whether its pieces are still poured, demoulded and weighed."""
        return self.framing_since is None and not self.is_ready
