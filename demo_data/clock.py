"""Days of the demo, counted from the time of loading, and its diary."""

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

from bookings import times
from demo_data.files import JobRow, SittingDay

EVENING = "18:30"
MINUTES = 45
_SUNDAY = 6
_TRAVEL = timedelta(minutes=20)


class Clock:
    """Conversion between the unit's local time and UTC, relative to the time of loading."""

    def __init__(self, now: datetime, zone: str) -> None:
        self.now, self.zone = now, zone
        self.today = times.local_day(now, zone)

    def on(self, day: date, clock: str) -> datetime:
        return times.to_utc(day, time.fromisoformat(clock), self.zone)

    def day(self, offset: int) -> date:
        """The day so many days after today."""
        return self.today + timedelta(days=offset)

    def local_day(self, at: datetime) -> date:
        return times.local_day(at, self.zone)

    def recent_pour_at(self) -> datetime:
        """Time about an hour ago, so that casts are demoulded today; late last night if it is before 7:00."""
        if self.now < self.on(self.today, "07:00"):
            return self.on(self.day(-1), "22:30")
        at = self.now - timedelta(minutes=50 + self.now.minute % 5)
        return max(at.replace(second=0, microsecond=0), self.on(self.today, "06:30"))

    @staticmethod
    def working(day: date, step: int) -> date:
        """Return the day, or the next in the direction of `step` if it is a Sunday."""
        return day + timedelta(days=step) if day.weekday() == _SUNDAY else day


class Diary:
    """Assigns each sitting a free slot; if the day is full, one on the next day away from today."""

    def __init__(self, clock: Clock, starts: Sequence[str]) -> None:
        self.clock, self.starts = clock, starts
        self.taken: set[datetime] = set()

    def take(self, wanted: SittingDay) -> datetime:
        if wanted == "over":
            return self._last_that_is_over()
        if wanted == "pour":
            return self._whose_clay_is_due()
        if wanted == "eve":
            return self._first_free(self.clock.day(-1), -1)
        if wanted == 0:
            return self._today_or_tomorrow()
        return self._first_free(self.clock.day(wanted), 1 if wanted > 0 else -1)

    def _first_free(self, day: date, step: int) -> datetime:
        while True:
            day = self.clock.working(day, step)
            if free := self._free(day):
                return self._keep(free[0])
            day += timedelta(days=step)

    def _today_or_tomorrow(self) -> datetime:
        """Find a slot later today; else one that is over (to be finished), for further sittings tomorrow."""
        free = self._free(self.clock.today)
        ahead = [start for start in free if start > self.clock.now]
        if self.clock.today.weekday() == _SUNDAY or not (ahead or self._is_empty()):
            return self._first_free(self.clock.day(1), 1)
        return self._keep((ahead or free[-1:])[0])

    def _last_that_is_over(self) -> datetime:
        latest = self.clock.now - timedelta(minutes=MINUTES) - _TRAVEL
        day = self.clock.today
        while True:
            day = self.clock.working(day, -1)
            if over := [start for start in self._free(day) if start <= latest]:
                return self._keep(max(over))
            day -= timedelta(days=1)

    def _whose_clay_is_due(self) -> datetime:
        """Find a slot whose print must be poured today: yesterday morning, or the last of the day before."""
        yesterday = self.clock.day(-1)
        if yesterday.weekday() != _SUNDAY:
            return self._keep(self._free(yesterday)[0])
        return self._keep(self._free(self.clock.day(-2))[-1])

    def _free(self, day: date) -> list[datetime]:
        starts = (self.clock.on(day, start) for start in self.starts)
        return [start for start in starts if start not in self.taken]

    def _is_empty(self) -> bool:
        """Whether today's diary is empty."""
        return len(self._free(self.clock.today)) == len(self.starts)

    def _keep(self, start: datetime) -> datetime:
        self.taken.add(start)
        return start


def most_pressing_first(row: JobRow) -> tuple[int, int]:
    """Sort key for assigning slots: today's first, then those that must be near now."""
    if isinstance(row.sitting, str):
        return ("pour", "over", "eve").index(row.sitting) + 1, 0
    return (0, 0) if row.sitting == 0 else (4, abs(row.sitting))
