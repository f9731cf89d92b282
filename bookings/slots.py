"""Wall-clock times of a place as moments, and back. Pure: days, clock times and zone names come in.

Zone names are those of the IANA database ("Europe/London"); moments are aware.
"""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from studio import units


def moment(day: date, clock: time, zone: str) -> datetime:
    """The moment, in UTC, at which the clocks of `zone` show `clock` on `day`.

    An hour that the clocks show twice is its first. Raises ValueError with a sentence for an hour
    that they skip, and for a day beyond the calendar.
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


def local(at: datetime, zone: str) -> datetime:
    """A moment as the clocks of `zone` show it."""
    return at.astimezone(ZoneInfo(zone))


def local_day(at: datetime, zone: str) -> date:
    return local(at, zone).date()


def day_bounds(day: date, zone: str, days: int = 1) -> tuple[datetime, datetime]:
    """The moments, in UTC, between which `days` local days from `day` on lie: [start, end).

    A day may last 23 or 25 hours; where midnight itself is skipped it begins when the clocks go on.
    """
    edges = (day, day + timedelta(days=days))
    start, end = (datetime.combine(edge, time.min, ZoneInfo(zone)) for edge in edges)
    return start.astimezone(UTC), end.astimezone(UTC)


def say_span(start: datetime, end: datetime, zone: str) -> str:
    """Two moments of a day as "10:00–10:45"."""
    return f"{local(start, zone):%H:%M}–{local(end, zone):%H:%M}"


def say_moment(at: datetime, zone: str, today: date | None = None) -> str:
    """A moment as "Thu 3 Dec, 10:00"; with its year where `today` lies in another."""
    shown = local(at, zone)
    return f"{units.day(shown.date(), today)}, {shown:%H:%M}"
