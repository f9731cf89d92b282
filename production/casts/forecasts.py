"""Drying forecasts of casts: what they are computed from, and the stored ones."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property, partial
from math import exp

from django.utils import timezone

from production import plaster
from production.casts.models import Cast, RoomReading, Workshop
from production.casts.pieces import purity_of, valid_weighings
from production.drying.air import Room
from production.drying.clock import READING_VALID_FOR, DryingClock, drying_clock
from production.drying.forecast import (
    ONE_IN_TEN_SD,
    ORDINARY_DAYS,
    Forecast,
    Prior,
    forecast_drying,
    prior_days,
)
from production.drying.learning import (
    MAX_PIECES,
    Circumstances,
    DriedPiece,
    LearntFactor,
    learn_drying,
)
from studio import units
from studio.accounts.models import Unit
from studio.jobs.models import Job
from studio.limbs import Limb
from studio.stages import Stage

# Water and powder weighed out on a kitchen scale, with drops: right to about this share of the water.
WATER_SD = 0.01

# How far a cast may be from its share of the mix, as a share of it, before it is weighed.
SHARE_SD = 0.12


@dataclass(frozen=True, slots=True)
class DryInterval:
    """The 80 % interval of the day on which a cast is dry, and the likely day."""

    early_on: date
    likely_on: date
    late_on: date

    def words(self, today: date) -> str:
        """In words: "about Tue 1 Dec (Mon 30 Nov to Thu 3 Dec)", no day before `today`; empty once all have passed."""
        if self.late_on < today:
            return ""
        early_on, likely_on = max(self.early_on, today), max(self.likely_on, today)
        likely = f"about {units.day(likely_on)}"
        if early_on == self.late_on:
            return likely
        return f"{likely} ({units.day(early_on)} to {units.day(self.late_on)})"


@dataclass(frozen=True, slots=True)
class DryingDays:
    """Days from demoulding to dry, as an 80 % interval, and the number of the unit's own casts behind it."""

    early: float
    likely: float
    late: float
    pieces: int


@dataclass(frozen=True, slots=True)
class RoomNow:
    """The air of the drying room: the last reading if recent, else the usual air and no reading."""

    room: Room
    reading: RoomReading | None


@dataclass(frozen=True)
class DryingRack:
    """What all drying forecasts of one unit share, loaded once: at most five queries."""

    unit: Unit
    now: datetime

    @cached_property
    def workshop(self) -> Workshop:
        return workshop(self.unit)

    @cached_property
    def room(self) -> RoomNow:
        return room_now(self.unit, self.now, self.workshop)

    @cached_property
    def past(self) -> Sequence[DriedPiece]:
        return dried_pieces(self.unit, self.workshop)

    @cached_property
    def rooms(self) -> list[tuple[datetime, Room]]:
        """Readings of the room since the oldest damp cast was demoulded, and a few days before."""
        oldest = self.unit.casts.damp().order_by("demoulded_at").first()
        since = ((oldest and oldest.demoulded_at) or self.now) - 2 * READING_VALID_FOR
        air_m_per_s = self.workshop.air_m_per_s
        return [
            (read.at, Room(read.temperature_c, read.humidity_percent, air_m_per_s))
            for read in self.unit.room_readings.filter(at__lte=self.now).since(since)
        ]

    def unlearnt_days(
        self,
        depth_mm: float,
        consistency: float,
        purity: float = 1.0,
        room: Room | None = None,
    ) -> float:
        """Predict days to dry from depth, mix and room (default: now) and the unit's usual days, without its own casts."""
        free_g_per_ml = plaster.mix(1, consistency, purity).free_water_g
        usual = self.unit.drying_days / ORDINARY_DAYS
        return usual * prior_days(depth_mm, free_g_per_ml, room or self.room.room)

    def clock(self, days_in: Callable[[Room], float], usual_days: float) -> DryingClock:
        """Build the clock of drying speed: `days_in(room)` are the days to dry in a recorded room, `usual_days` in the usual one."""
        return drying_clock([(at, usual_days / days_in(room)) for at, room in self.rooms], self.now)

    def learnt(self, limb: str, depth_mm: float, place: int | None = None) -> LearntFactor:
        """Return the unit's own correction of drying days for a limb, depth and rack place."""
        about = Circumstances(limb, timezone.localdate(self.now).month, place, depth_mm)
        return learn_drying(self.past, about)

    def forecast(self, cast: Cast) -> tuple[Forecast, float]:
        """Forecast the drying of a demoulded cast; return also its predicted days without the unit's correction.

        No query if cast and weighings are loaded.
        """
        purity = purity_of(cast)
        depth_mm = self.depth_mm(cast)
        days_in = partial(self.unlearnt_days, depth_mm, cast.pour.consistency, purity)
        usual_days = days_in(default_room(self.workshop))
        demoulded_at, clock = cast.demoulded_at or self.now, self.clock(days_in, usual_days)
        known = self.learnt(cast.piece.limb, depth_mm, cast.rack_place)
        share = plaster.dry_share(cast.pour.consistency, purity)
        consistency = cast.pour.consistency
        foreseen = forecast_drying(
            valid_weighings(cast),
            demoulded_at=demoulded_at,
            prior=Prior(
                days=usual_days * known.factor,
                days_log_sd=known.log_sd,
                fresh_g=self._share_of_pour_g(cast),
                fresh_sd_g=SHARE_SD * self._share_of_pour_g(cast),
                dry_share=share,
                dry_share_sd=share * WATER_SD * consistency / (100 + consistency),
                curves=known.curves,
            ),
            scale_g=self.workshop.scale_g,
            clock=clock,
        )
        unlearnt = (clock.after(demoulded_at, usual_days) - demoulded_at) / timedelta(days=1)
        return foreseen, unlearnt

    def depth_mm(self, cast: Cast) -> float:
        """Depth of the cast in mm: as measured on its mould, else the usual one."""
        mould = getattr(cast.piece, "mould", None)
        return mould.depth_mm if mould else self.workshop.depth_mm

    def _share_of_pour_g(self, cast: Cast) -> float:
        pour = cast.pour
        return (pour.plaster_g + pour.water_g - (pour.left_g or 0)) / max(1, pour.casts.count())


def workshop(unit: Unit) -> Workshop:
    """Return the unit's workshop, or an unsaved one with the defaults. One query."""
    return Workshop.objects.filter(unit=unit).first() or Workshop(unit=unit)


def room_now(unit: Unit, now: datetime, tools: Workshop | None = None) -> RoomNow:
    """Return the newest reading of the last three days, else the usual air.

    One query if `tools` are given, else two.
    """
    usual = tools or workshop(unit)
    since = now - READING_VALID_FOR
    read = unit.room_readings.filter(at__lte=now).since(since).newest_first().first()
    if read is None:
        return RoomNow(default_room(usual), None)
    room = Room(read.temperature_c, read.humidity_percent, usual.air_m_per_s)
    return RoomNow(room, read)


def default_room(tools: Workshop) -> Room:
    """Return the usual air of the workshop."""
    return Room(tools.temperature_c, tools.humidity_percent, tools.air_m_per_s)


def dried_pieces(unit: Unit, usual: Workshop) -> list[DriedPiece]:
    """Return the newest casts found dry by weight, oldest first, for learning. One query."""
    rows = (
        unit.casts.filter(dry_at__isnull=False, dry_why="", unlearnt_days__isnull=False)
        .exclude(dry_likely_at=None)
        .select_related("piece__mould")
        .order_by("-dry_at", "-pk")[:MAX_PIECES]
    )
    return [
        DriedPiece(
            Circumstances(
                cast.piece.limb,
                timezone.localdate(cast.demoulded_at).month,
                cast.dried_at_place,
                mould.depth_mm if (mould := getattr(cast.piece, "mould", None)) else usual.depth_mm,
            ),
            days=max((cast.dry_likely_at - cast.demoulded_at) / timedelta(days=1), 0.5),
            unlearnt_days=cast.unlearnt_days,
            curves=cast.curves,
        )
        for cast in reversed(rows)
        if cast.demoulded_at and cast.dry_likely_at and cast.unlearnt_days
    ]


def typical_drying(rack: DryingRack) -> dict[str, DryingDays]:
    """Return by limb the days to dry of a piece that is not demoulded yet. At most five queries."""
    depth_mm = rack.workshop.depth_mm
    unlearnt = rack.unlearnt_days(depth_mm, rack.unit.consistency)
    return {limb: _days(rack.learnt(limb, depth_mm), unlearnt) for limb in Limb.values}


def stored_interval(cast: Cast) -> DryInterval | None:
    """Return the stored forecast of a cast as days; None before it is demoulded. No query."""
    if not (cast.dry_early_at and cast.dry_likely_at and cast.dry_late_at):
        return None
    return DryInterval(
        timezone.localdate(cast.dry_early_at),
        timezone.localdate(cast.dry_likely_at),
        timezone.localdate(cast.dry_late_at),
    )


def cast_days_to_go(cast: Cast, today: date, drying_days: int) -> int:
    """Whole days until a demoulded cast is probably dry: at least 1 while damp, 0 when dry. No query."""
    if cast.dry_at:
        return 0
    kept = stored_interval(cast)
    demoulded_on = timezone.localdate(cast.demoulded_at or timezone.now())
    likely_on = kept.likely_on if kept else demoulded_on + timedelta(days=drying_days)
    return max(1, (likely_on - today).days)


def days_to_dry(job: Job, today: date) -> int | None:
    """Days until the last cast of a drying job is probably dry, 0 once all are; None at any other stage. One query."""
    if job.stage != Stage.DRYING:
        return None
    casts = Cast.objects.whole().on_an_open_job().filter(piece__job=job)
    return max((cast_days_to_go(cast, today, job.unit.drying_days) for cast in casts), default=0)


def _days(known: LearntFactor, unlearnt_days: float) -> DryingDays:
    likely = unlearnt_days * known.factor
    off_by = exp(ONE_IN_TEN_SD * known.log_sd)
    return DryingDays(likely / off_by, likely, likely * off_by, known.pieces)
