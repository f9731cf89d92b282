"""Facts about jobs and pieces from which a week is planned. Pure; times are local."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Literal

from production import plaster
from production.drying.by_weight import EXCESS_SHARE
from studio import units

Kind = Literal["pour", "demould", "weigh", "frame", "hand_over"]

DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Habits:
    """A unit's rules: hours a print keeps in the clay, hours in the mould, days of drying."""

    clay_rest_hours: int = 24
    demould_hours: int = 2
    drying_days: int = 7


@dataclass(frozen=True, slots=True)
class Planned:
    """The day of a step in the stored plan; if it was moved, from which day and why."""

    kind: str
    on: date
    moved_from: date | None = None
    moved_why: str = ""
    pinned: bool = False

    @property
    def note(self) -> str:
        """Why the step was moved; empty if it was not."""
        if self.moved_from is None or self.moved_from == self.on:
            return ""
        return f"moved from {units.day(self.moved_from)}: {self.moved_why}"


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
    def slurry_ml(self) -> float:
        """Volume of its plaster and water together, ml."""
        return plaster.slurry_ml(self.plaster_g, self.water_g)

    @property
    def name(self) -> str:
        return f"{self.child}, {self.limb}"

    def planned_for(self, kind: Kind) -> Planned | None:
        """Return the planned step of this kind, if any."""
        return next((step for step in self.planned if step.kind == kind), None)


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

    def planned_for(self, kind: Kind) -> Planned | None:
        """Return the planned step of this kind for the whole job, if any."""
        return next((step for step in self.planned if step.kind == kind), None)
