"""Diary pages: a week with its sittings, and a day with the ages of the children on it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from bookings import times
from bookings.sittings import sitters as sittings_sitters
from bookings.sittings.ages import Advice
from bookings.sittings.models import Sitting
from bookings.sittings.sitters import Sitter, sitters
from studio import units
from studio.accounts.models import Unit
from studio.families.models import Child

FIRST_YEAR, LAST_YEAR = 2000, 2099


@dataclass(frozen=True, slots=True)
class Entry:
    """One sitting in the diary."""

    sitting: Sitting
    span: str
    sitters: list[Sitter]
    is_late: bool


@dataclass(frozen=True, slots=True)
class Day:
    on: date
    is_today: bool
    is_past: bool
    entries: list[Entry]


@dataclass(frozen=True, slots=True)
class Week:
    """A week of the diary; `name`, `earlier` and `later` are ISO weeks such as "2026-W48"."""

    name: str
    days: list[Day]
    earlier: str
    later: str

    @property
    def sittings(self) -> int:
        return sum(len(day.entries) for day in self.days)


@dataclass(frozen=True, slots=True)
class DayAhead:
    """A day considered for a sitting: advice on each child's age, and the sittings of that day."""

    on: date
    children: list[tuple[Child, Advice]]
    entries: list[Entry]

    @property
    def has_too_young(self) -> bool:
        return any(advice.verdict == "too_young" for _, advice in self.children)


def parse_week(text: str, now: datetime, zone: str) -> tuple[date, ...]:
    """Parse an ISO week such as "2026-W48" to its days; this week if `text` is empty.

    Raises ValueError with a sentence for a week that does not exist or is outside of the diary's years.
    """
    days = units.parse_week(text or units.week_of(times.local_day(now, zone)))
    if not FIRST_YEAR <= days[0].year <= days[-1].year <= LAST_YEAR:
        raise ValueError(f"The diary holds the years {FIRST_YEAR} to {LAST_YEAR}.")
    return days


def week(unit: Unit, days: Sequence[date], now: datetime) -> Week:
    """Load seven days of the unit's diary. Four queries for any number of sittings."""
    start, end = times.day_bounds(days[0], unit.time_zone, len(days))
    found = _entries(unit, unit.sittings.between(start, end).in_diary(), now)
    today = times.local_day(now, unit.time_zone)
    return Week(
        name=units.week_of(days[0]),
        days=[
            Day(
                on=day,
                is_today=day == today,
                is_past=day < today,
                entries=[each for each in found if _day_of(each.sitting) == day],
            )
            for day in days
        ],
        earlier=units.week_of(days[0] - timedelta(days=7)),
        later=units.week_of(days[0] + timedelta(days=7)),
    )


def day_ahead(
    unit: Unit, children: Iterable[Child], on: date, now: datetime, *, but: Sitting | None = None
) -> DayAhead:
    """Load a day considered for a sitting. Four queries. `but`: the sitting that is being moved."""
    sittings = unit.sittings.between(*times.day_bounds(on, unit.time_zone)).in_diary()
    return DayAhead(
        on=on,
        children=[(child, sittings_sitters.advise(unit, child, on)) for child in children],
        entries=_entries(unit, sittings.exclude(pk=but.pk) if but else sittings, now),
    )


def _entries(unit: Unit, sittings: Iterable[Sitting], now: datetime) -> list[Entry]:
    found = []
    for sitting in sittings:
        sitting.unit = unit
        found.append(
            Entry(
                sitting=sitting,
                span=times.format_span(sitting.starts_at, sitting.ends_at, unit.time_zone),
                sitters=sitters(sitting.prints.all(), _day_of(sitting)),
                is_late=sitting.state == Sitting.State.PLANNED and sitting.ends_at < now,
            )
        )
    return found


def _day_of(sitting: Sitting) -> date:
    return times.local_day(sitting.starts_at, sitting.unit.time_zone)
