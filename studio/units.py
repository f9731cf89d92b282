"""Formatting of lengths, masses, dates, ages and names for people. No clock: today is an argument."""

import re
from collections.abc import Iterable
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from dateutil.relativedelta import relativedelta

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
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
    text = f"{_DAYS[on.weekday()]} {on.day} {_MONTHS[on.month - 1]}"
    if today is None or today.year == on.year:
        return text
    return f"{text} {on.year}"


def full_day(on: date) -> str:
    """Format a date with its year, for stored sentences: "3 Dec 2026"."""
    return f"{on.day} {_MONTHS[on.month - 1]} {on.year}"


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
        return _count(days // 7, "week") if days >= len(_DAYS) else _count(days, "day")
    if months < _IN_YEARS_FROM:
        return _count(months, "month")
    years = _count(lived.years, "year")
    return f"{years} {_count(lived.months, 'month')}" if lived.months else years


def join_names(names: Iterable[str]) -> str:
    """Join names, each once: "Ada", "Ada and Tom", "Ada, Tom and Bo"."""
    once = list(dict.fromkeys(names))
    return " and ".join([", ".join(once[:-1]), once[-1]] if len(once) > 1 else once)


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
    year, week, _ = on.isocalendar()
    return f"{year:04}-W{week:02}"


def _rounded(value: Decimal, step: str) -> Decimal:
    return value.quantize(Decimal(step), ROUND_HALF_UP)


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
