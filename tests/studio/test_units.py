"""Lengths, masses, days, ages and weeks as people read them."""

import itertools
from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from studio import units

DAYS = st.dates(date(1990, 1, 1), date(2090, 12, 31))


@pytest.mark.parametrize(
    ("mm", "text"),
    [(73.0, "7.3 cm"), (120, "12.0 cm"), (70.5, "7.1 cm"), (72.5, "7.3 cm"), (0.4, "0.0 cm")],
)
def test_millimetres_are_read_as_centimetres(mm, text):
    assert units.cm(mm) == text


@pytest.mark.parametrize(
    ("g", "text"),
    [
        (269.1, "269 g"),
        (268.5, "269 g"),
        (999.4, "999 g"),
        (999.6, "1.00 kg"),
        (1000, "1.00 kg"),
        (1831, "1.83 kg"),
        (1835, "1.84 kg"),
        (0, "0 g"),
    ],
)
def test_grams_become_kilos_from_a_thousand(g, text):
    assert units.kg(g) == text


def test_a_day_carries_its_year_only_where_that_differs():
    on = date(2026, 12, 3)
    assert units.day(on) == "Thu 3 Dec"
    assert units.day(on, date(2026, 1, 1)) == "Thu 3 Dec"
    assert units.day(on, date(2027, 1, 1)) == "Thu 3 Dec 2026"


@given(DAYS)
def test_a_day_is_named_as_the_calendar_names_it(on):
    assert units.day(on, date(1900, 1, 1)) == f"{on:%a} {on.day} {on:%b %Y}"


@pytest.mark.parametrize(
    ("born_on", "on", "text"),
    [
        ("2026-08-20", "2026-08-19", "not born yet"),
        ("2026-08-20", "2026-08-20", "born today"),
        ("2026-08-20", "2026-08-21", "1 day"),
        ("2026-08-20", "2026-08-26", "6 days"),
        ("2026-08-20", "2026-08-27", "1 week"),
        ("2026-08-20", "2026-12-03", "15 weeks"),
        ("2026-08-20", "2027-02-19", "26 weeks"),
        ("2026-08-20", "2027-02-20", "6 months"),
        ("2026-08-20", "2027-03-20", "7 months"),
        ("2026-08-20", "2028-08-19", "23 months"),
        ("2026-08-20", "2028-08-20", "2 years"),
        ("2026-08-20", "2028-09-20", "2 years 1 month"),
        ("2026-08-20", "2029-10-30", "3 years 2 months"),
        ("2024-02-29", "2026-02-28", "2 years"),
    ],
)
def test_ages(born_on, on, text):
    assert units.age(date.fromisoformat(born_on), date.fromisoformat(on)) == text


@given(DAYS, st.integers(6, 23))
def test_months_turn_on_the_day_counted_from_birth(born_on, months):
    turns_on = born_on + relativedelta(months=months)
    assert units.age(born_on, turns_on) == f"{months} months"
    assert units.age(born_on, turns_on - timedelta(days=1)) != f"{months} months"


@given(DAYS)
def test_a_week_is_read_back_as_its_seven_days(on):
    week = units.parse_week(units.week_of(on))
    assert on in week
    assert len(week) == 7
    assert week[0].weekday() == 0
    assert all(b - a == timedelta(days=1) for a, b in itertools.pairwise(week))


def test_a_week_may_be_typed_in_small_letters():
    assert units.parse_week(" 2026-w48 ")[0] == date(2026, 11, 23)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("2025-W53", "There is no week 53 of 2025."),
        ("2026-W00", "There is no week 0 of 2026."),
        ("2026-W54", "There is no week 54 of 2026."),
        ("0000-W01", "There is no week 1 of 0."),
        ("9999-W53", "There is no week 53 of 9999."),
        ("2026-48", "like 2026-W48"),
        ("2026-W4", "like 2026-W48"),
        ("next", "like 2026-W48"),
        ("", "like 2026-W48"),
        ("٢٠٢٦-W48", "like 2026-W48"),
    ],
)
def test_a_week_that_does_not_exist_is_refused_with_a_sentence(text, sentence):
    with pytest.raises(ValueError, match=sentence):
        units.parse_week(text)
