"""Days of a room as days of the usual room: a cast's clock, so that a room which changes changes what is left, not what is gone.

A cold, damp week counts for less than a week. Each reading says how fast a cast dries then (`pace`, 1 in the usual
room); it holds half the way to the readings beside it, and three days at the most, which is our estimate; in between
the room is taken as usual. What was read last is taken to stay.
"""

import itertools
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

READING_HOLDS = timedelta(days=3)
_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Clock:
    """`paces[0]` until `changes[0]`, `paces[1]` from there on, and so forth; the last for ever. All are above 0."""

    changes: tuple[datetime, ...] = ()
    paces: tuple[float, ...] = (1.0,)

    def __post_init__(self) -> None:
        if len(self.paces) != len(self.changes) + 1 or not all(pace > 0 for pace in self.paces):
            raise ValueError("A clock has one pace more than changes, each above zero.")

    def passed_days(self, earlier: datetime, later: datetime) -> float:
        """Days of the usual room between two times; below zero where `later` comes first."""
        if later < earlier:
            return -self.passed_days(later, earlier)
        passed, at = 0.0, earlier
        for place in range(bisect_right(self.changes, earlier), len(self.paces)):
            until = min(self.changes[place], later) if place < len(self.changes) else later
            passed += self.paces[place] * ((until - at) / _DAY)
            at = until
        return passed

    def after(self, start: datetime, days: float) -> datetime:
        """When so many days of the usual room, nought or more, have passed since `start`."""
        left, at = days, start
        for place in range(bisect_right(self.changes, start), len(self.changes)):
            whole = self.paces[place] * ((self.changes[place] - at) / _DAY)
            if whole >= left:
                return at + left / self.paces[place] * _DAY
            left, at = left - whole, self.changes[place]
        return at + left / self.paces[-1] * _DAY


USUAL = Clock()


def clock_of(readings: Sequence[tuple[datetime, float]], now: datetime) -> Clock:
    """The clock of readings up to `now` (time and pace, in any order)."""
    ordered = sorted(reading for reading in readings if reading[0] <= now)
    if not ordered:
        return USUAL
    changes: list[datetime] = [ordered[0][0] - READING_HOLDS]
    paces = [1.0, ordered[0][1]]
    for (before_at, _), (at, pace) in itertools.pairwise(ordered):
        if at - before_at > 2 * READING_HOLDS:
            changes += [before_at + READING_HOLDS, at - READING_HOLDS]
            paces += [1.0, pace]
        else:
            changes.append(before_at + (at - before_at) / 2)
            paces.append(pace)
    if now - ordered[-1][0] > READING_HOLDS:
        changes.append(ordered[-1][0] + READING_HOLDS)
        paces.append(1.0)
    return Clock(tuple(changes), tuple(paces))
