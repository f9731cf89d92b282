"""A clock that counts days in a changing room as days in the unit's usual room: a cold, damp week counts for less.

Each room reading gives a pace, the speed of drying relative to the usual room (1.0). A reading is valid half-way to
its neighbours and for at most three days (our estimate); between readings the room is taken as usual. The newest
reading is taken to last. So a change of the room affects the days to come, not those that have passed.
"""

import itertools
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

READING_VALID_FOR = timedelta(days=3)
_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class DryingClock:
    """Paces over time: `paces[0]` until `changes[0]`, `paces[1]` until `changes[1]`, the last one for ever.

    Raises ValueError unless there is one pace more than changes and each is above 0.
    """

    changes: tuple[datetime, ...] = ()
    paces: tuple[float, ...] = (1.0,)

    def __post_init__(self) -> None:
        if len(self.paces) != len(self.changes) + 1 or not all(pace > 0 for pace in self.paces):
            raise ValueError("A clock has one pace more than changes, each above zero.")

    def passed_days(self, earlier: datetime, later: datetime) -> float:
        """Days of the usual room between two times; negative if `later` is the earlier one."""
        if later < earlier:
            return -self.passed_days(later, earlier)
        passed, at = 0.0, earlier
        for place in range(bisect_right(self.changes, earlier), len(self.paces)):
            until = min(self.changes[place], later) if place < len(self.changes) else later
            passed += self.paces[place] * ((until - at) / _DAY)
            at = until
        return passed

    def after(self, start: datetime, days: float) -> datetime:
        """The time at which `days` (0 or more) of the usual room have passed since `start`."""
        left, at = days, start
        for place in range(bisect_right(self.changes, start), len(self.changes)):
            whole = self.paces[place] * ((self.changes[place] - at) / _DAY)
            if whole >= left:
                return at + left / self.paces[place] * _DAY
            left, at = left - whole, self.changes[place]
        return at + left / self.paces[-1] * _DAY


USUAL_CLOCK = DryingClock()


def drying_clock(readings: Sequence[tuple[datetime, float]], now: datetime) -> DryingClock:
    """Build the clock from room readings (time, pace) in any order; those after `now` are ignored."""
    ordered = sorted(reading for reading in readings if reading[0] <= now)
    if not ordered:
        return USUAL_CLOCK
    changes: list[datetime] = [ordered[0][0] - READING_VALID_FOR]
    paces = [1.0, ordered[0][1]]
    for (before_at, _), (at, pace) in itertools.pairwise(ordered):
        if at - before_at > 2 * READING_VALID_FOR:
            changes += [before_at + READING_VALID_FOR, at - READING_VALID_FOR]
            paces += [1.0, pace]
        else:
            changes.append(before_at + (at - before_at) / 2)
            paces.append(pace)
    if now - ordered[-1][0] > READING_VALID_FOR:
        changes.append(ordered[-1][0] + READING_VALID_FOR)
        paces.append(1.0)
    return DryingClock(tuple(changes), tuple(paces))
