"""Conversion between local times of a time zone and UTC, and their formatting. Pure.

Zones are names of the IANA database ("Europe/London"); datetimes are aware.
"""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from studio import units


def to_utc(day: date, clock: time, zone: str) -> datetime:
    """Convert a local day and time of `zone` to UTC.

    An hour that occurs twice (clocks going back) is its first. Raises ValueError with a sentence for an hour that is
    skipped, and for a day outside of the calendar.
    """
    shown = datetime.combine(day, clock.replace(tzinfo=None, fold=0))
    try:
        found = shown.replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)
        back = found.astimezone(ZoneInfo(zone)).replace(tzinfo=None)
    except OverflowError:
        raise ValueError("This day lies outside the calendar.") from None
    if back != shown:
        raise ValueError(
            f"There is no {clock:%H:%M} on {units.day(day)}: the clocks go forward then. "
            f"Choose {back:%H:%M} or another time."
        )
    return found


def to_local(at: datetime, zone: str) -> datetime:
    """Convert a datetime to the local time of `zone`."""
    return at.astimezone(ZoneInfo(zone))


def local_day(at: datetime, zone: str) -> date:
    """Return the day of a time in `zone`; code that knows only the active zone asks `timezone.localdate`."""
    return to_local(at, zone).date()


def day_bounds(day: date, zone: str, days: int = 1) -> tuple[datetime, datetime]:
    """Start and end in UTC of `days` local days from `day` on, the end excluded.

    A day may last 23 or 25 hours; if midnight itself is skipped, the day begins with the first existing time.
    """
    edges = (day, day + timedelta(days=days))
    start, end = (datetime.combine(edge, time.min, ZoneInfo(zone)) for edge in edges)
    return start.astimezone(UTC), end.astimezone(UTC)


def format_span(start: datetime, end: datetime, zone: str) -> str:
    """Format a time span of one day: "10:00–10:45"."""
    return f"{to_local(start, zone):%H:%M}–{to_local(end, zone):%H:%M}"


def format_time(at: datetime, zone: str, today: date | None = None) -> str:
    """Format a time: "Thu 3 Dec, 10:00", with the year if `today` is given and in another year."""
    shown = to_local(at, zone)
    return f"{units.day(shown.date(), today)}, {shown:%H:%M}"
