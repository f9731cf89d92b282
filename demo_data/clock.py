"""The days of the demo, counted from the moment of loading, and the diary that hands out its slots."""

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

from bookings import times
from demo_data.reading import JobRow, SittingDay

EVENING = "18:30"
MINUTES = 45
_SUNDAY = 6
_TRAVEL = timedelta(minutes=20)


class Clock:
    """Clock times of the unit's zone as moments."""

    def __init__(self, now: datetime, zone: str) -> None:
        self.now, self.zone = now, zone
        self.today = times.local_day(now, zone)

    def on(self, day: date, clock: str) -> datetime:
        return times.to_utc(day, time.fromisoformat(clock), self.zone)

    def day(self, offset: int) -> date:
        """So many days from today."""
        return self.today + timedelta(days=offset)

    def local_day(self, at: datetime) -> date:
        return times.local_day(at, self.zone)

    def poured_lately(self) -> datetime:
        """About an hour ago, so that the casts are to be demoulded today; before dawn, late last night."""
        if self.now < self.on(self.today, "07:00"):
            return self.on(self.day(-1), "22:30")
        at = self.now - timedelta(minutes=50 + self.now.minute % 5)
        return max(at.replace(second=0, microsecond=0), self.on(self.today, "06:30"))

    @staticmethod
    def working(day: date, step: int) -> date:
        """The day, or in the direction of `step` the next that is no Sunday."""
        return day + timedelta(days=step) if day.weekday() == _SUNDAY else day


class Diary:
    """Hands out the slots of a day, none twice; a full day's sitting goes to the next one outwards."""

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
        """Still ahead if it can be; one that is over waits to be written up, the others are tomorrow."""
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
        """A print that is to be poured today: yesterday morning's, or the afternoon's before it."""
        yesterday = self.clock.day(-1)
        if yesterday.weekday() != _SUNDAY:
            return self._keep(self._free(yesterday)[0])
        return self._keep(self._free(self.clock.day(-2))[-1])

    def _free(self, day: date) -> list[datetime]:
        starts = (self.clock.on(day, start) for start in self.starts)
        return [start for start in starts if start not in self.taken]

    def _is_empty(self) -> bool:
        """Whether nothing stands in today's diary."""
        return len(self._free(self.clock.today)) == len(self.starts)

    def _keep(self, start: datetime) -> datetime:
        self.taken.add(start)
        return start


def most_pressing_first(row: JobRow) -> tuple[int, int]:
    """The order in which slots are handed out: today's, then those that must lie close to now."""
    if isinstance(row.sitting, str):
        return ("pour", "over", "eve").index(row.sitting) + 1, 0
    return (0, 0) if row.sitting == 0 else (4, abs(row.sitting))
