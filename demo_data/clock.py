"""The days of the demo, counted from the moment of loading, and the diary that hands out its slots."""

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

from bookings import slots
from demo_data.reading import JobRow, SittingDay

EVENING = "18:30"
MINUTES = 45
_SUNDAY = 6
_TRAVEL = timedelta(minutes=20)


class Clock:
    """Clock times of the unit's zone as moments."""

    def __init__(self, now: datetime, zone: str) -> None:
        self.now, self.zone = now, zone
        self.today = slots.local_day(now, zone)

    def on(self, day: date, clock: str) -> datetime:
        return slots.moment(day, time.fromisoformat(clock), self.zone)

    def day(self, offset: int) -> date:
        """So many days from today."""
        return self.today + timedelta(days=offset)

    def local_day(self, at: datetime) -> date:
        return slots.local_day(at, self.zone)

    def last_evening(self) -> datetime:
        """When the bench was last at work."""
        today = self.on(self.today, EVENING)
        return today if today <= self.now else self.on(self.day(-1), EVENING)

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
        if wanted == "last":
            return self._last_that_is_over()
        if wanted == "eve":
            return self._first_free(self.clock.day(-1), -1)
        return self._first_free(self.clock.day(wanted), 1 if wanted >= 0 else -1)

    def _first_free(self, day: date, step: int) -> datetime:
        while True:
            day = self.clock.working(day, step)
            if free := self._free(day):
                return self._keep(free[0])
            day += timedelta(days=step)

    def _last_that_is_over(self) -> datetime:
        latest = self.clock.now - timedelta(minutes=MINUTES) - _TRAVEL
        day = self.clock.today
        while True:
            day = self.clock.working(day, -1)
            if over := [start for start in self._free(day) if start <= latest]:
                return self._keep(max(over))
            day -= timedelta(days=1)

    def _free(self, day: date) -> list[datetime]:
        """In the order of the day; of today those still ahead come first."""
        free = [at for start in self.starts if (at := self.clock.on(day, start)) not in self.taken]
        if day == self.clock.today:
            ahead = [start for start in free if start > self.clock.now]
            return ahead + [start for start in reversed(free) if start not in ahead]
        return free

    def _keep(self, start: datetime) -> datetime:
        self.taken.add(start)
        return start


def most_pressing_first(row: JobRow) -> tuple[int, int]:
    """The order in which slots are handed out: today's, then those that must lie close to now."""
    if row.sitting == "last":
        return 1, 0
    if row.sitting == "eve":
        return 2, 0
    return (0, 0) if row.sitting == 0 else (3, abs(row.sitting))
