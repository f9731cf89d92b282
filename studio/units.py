"""Formatting of lengths, masses, dates, ages and names for people. No clock: today is an argument.

Days and lists of names are in the language of the reader.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from functools import cache

from dateutil.relativedelta import relativedelta
from django.utils.dates import MONTHS_3, WEEKDAYS_ABBR
from django.utils.translation import get_language
from django.utils.translation import gettext as _

_WEEK = re.compile(r"([0-9]{4})-W([0-9]{2})", re.ASCII)

_GRAMS_IN_A_KILO = 1000
_IN_MONTHS_FROM = 6
_IN_YEARS_FROM = 24


def cm(mm: float) -> str:
    """Format millimetres in cm: 73.0 is "7.3 cm", rounded half up to the millimetre."""
    return f"{_rounded(Decimal(str(mm)) / 10, '0.1')} cm"


def kg(g: float) -> str:
    """Format grams: "269 g" below a kilogram, "1.83 kg" from there on, rounded half up."""
    grams = _rounded(Decimal(str(g)), "1")
    if abs(grams) < _GRAMS_IN_A_KILO:
        return f"{grams} g"
    return f"{_rounded(Decimal(str(g)) / _GRAMS_IN_A_KILO, '0.01')} kg"


def day(on: date, today: date | None = None) -> str:
    """Format a date: "Thu 3 Dec", with the year if `today` is given and in another year."""
    in_words = _calendar(get_language())
    with_year = today is not None and today.year != on.year
    return (in_words.day_with_year if with_year else in_words.day) % in_words.parts(on)


def full_day(on: date) -> str:
    """Format a date with its year: "3 Dec 2026"."""
    in_words = _calendar(get_language())
    return in_words.full_day % in_words.parts(on)


def age(born_on: date, on: date) -> str:
    """Format an age on a day: "5 days", "15 weeks", months from six months on, "3 years 2 months" from two years."""
    if on < born_on:
        return "not born yet"
    if on == born_on:
        return "born today"
    lived = relativedelta(on, born_on)
    months = lived.years * 12 + lived.months
    if months < _IN_MONTHS_FROM:
        days = (on - born_on).days
        return _count(days // 7, "week") if days >= len(WEEKDAYS_ABBR) else _count(days, "day")
    if months < _IN_YEARS_FROM:
        return _count(months, "month")
    years = _count(lived.years, "year")
    return f"{years} {_count(lived.months, 'month')}" if lived.months else years


def join_names(names: Iterable[str]) -> str:
    """Join names, each once: "Ada", "Ada and Tom", "Ada, Tom and Bo"."""
    once = list(dict.fromkeys(names))
    if len(once) <= 1:
        return "".join(once)
    return _("%(names)s and %(last)s") % {"names": ", ".join(once[:-1]), "last": once[-1]}


def parse_week(text: str) -> tuple[date, ...]:
    """Parse an ISO 8601 week such as "2026-W48" to its seven days, Monday first.

    Raises ValueError with a sentence if the text is no week or the year has no such week.
    """
    found = _WEEK.fullmatch(text.strip().upper())
    if found is None:
        raise ValueError("Give a week as its year and number, like 2026-W48.")
    year, week = int(found[1]), int(found[2])
    try:
        return tuple(date.fromisocalendar(year, week, weekday) for weekday in range(1, 8))
    except (ValueError, OverflowError):
        raise ValueError(f"There is no week {week} of {year}.") from None


def week_of(on: date) -> str:
    """The ISO 8601 week of a day: "2026-W48". Its year may differ from the day's."""
    year, week = on.isocalendar()[:2]
    return f"{year:04}-W{week:02}"


@dataclass(frozen=True, slots=True)
class _Calendar:
    """The names of days and months in one language, and its ways to put a date together."""

    weekdays: tuple[str, ...]
    months: tuple[str, ...]
    day: str
    day_with_year: str
    full_day: str

    def parts(self, on: date) -> dict[str, object]:
        return {
            "weekday": self.weekdays[on.weekday()],
            "day": on.day,
            "month": self.months[on.month - 1],
            "year": on.year,
        }


@cache
def _calendar(language: str | None) -> _Calendar:
    """Look up the words of the active language, once: a page has many dates, a catalogue is slow."""
    return _Calendar(
        tuple(str(name) for name in WEEKDAYS_ABBR.values()),
        tuple(name.title() for name in MONTHS_3.values()),  # Django has them in small letters
        _("%(weekday)s %(day)s %(month)s"),
        _("%(weekday)s %(day)s %(month)s %(year)s"),
        _("%(day)s %(month)s %(year)s"),
    )


def _rounded(value: Decimal, step: str) -> Decimal:
    return value.quantize(Decimal(step), ROUND_HALF_UP)


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
