"""Working days of a unit: its week, days off and bank holidays."""

from dataclasses import dataclass
from datetime import date, timedelta

from production.working_week import holidays
from production.working_week.models import OtherDays, WorkingWeek
from studio.accounts.models import Unit

AHEAD = timedelta(days=365)


@dataclass(frozen=True, slots=True)
class Calendar:
    """The working week, exceptions still to come, and bank holidays of the next two years.

    `unknown_after`: the day after which bank holidays are not known, if within a year.
    """

    week: WorkingWeek
    other_days: list[OtherDays]
    bank_holidays: list[tuple[date, str]]
    unknown_after: date | None

    @property
    def weekdays(self) -> list[tuple[str, int]]:
        """Name and minutes of each weekday."""
        return list(zip(WorkingWeek.DAYS, self.week.minutes, strict=True))

    @property
    def courier_words(self) -> str:
        named = [name.capitalize() for name in self.week.courier_days.split(",") if name]
        return ", ".join(named) or "never"

    @property
    def days_off(self) -> frozenset[date]:
        """Bank holidays that are not worked, and the owner's days off."""
        off = {day for day, _ in self.bank_holidays} - self.opened_minutes.keys()
        for each in self.other_days:
            if each.minutes == 0:
                off |= set(_days(each))
        return frozenset(off)

    @property
    def opened_minutes(self) -> dict[date, int]:
        """Minutes of days that differ from their weekday."""
        return {
            day: each.minutes for each in self.other_days if each.minutes for day in _days(each)
        }


def working_week(unit: Unit) -> WorkingWeek:
    """Return the unit's working week, or an unsaved one with the defaults. One query."""
    return WorkingWeek.objects.filter(unit=unit).first() or WorkingWeek(unit=unit)


def calendar(unit: Unit, today: date) -> Calendar:
    """Return the unit's calendar from today. Two queries."""
    week = working_week(unit)
    until = holidays.known_until(week.division)
    return Calendar(
        week=week,
        other_days=list(unit.other_days.filter(dropped_at=None, last_on__gte=today)),
        bank_holidays=holidays.between(week.division, today, today + 2 * AHEAD),
        unknown_after=until if until and until < today + AHEAD else None,
    )


def _days(each: OtherDays) -> list[date]:
    return [
        each.first_on + timedelta(days=number)
        for number in range((each.last_on - each.first_on).days + 1)
    ]
