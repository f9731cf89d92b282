"""Ages at a sitting, and the advice that the owner reads."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.sittings import ages


def advise(born_on, due_on, on, weeks=12, months=4):
    return ages.advise(born_on, due_on, on, earliest_weeks=weeks, best_months=months)


DAYS = st.dates(date(1995, 1, 1), date(2080, 12, 31))

ORDER = ["before_birth", "too_young", "early", "best", "later"]


@given(DAYS, st.integers(0, 240))
def test_months_count_from_the_birth_date_and_clip_to_the_month(born_on, months):
    on = ages.months_after(born_on, months)
    assert (on.year * 12 + on.month) - (born_on.year * 12 + born_on.month) == months
    assert on.day == born_on.day or (on.day < born_on.day and (on + timedelta(days=1)).day == 1)


@given(DAYS, st.integers(22, 112), st.integers(-100, 1500))
def test_a_child_born_early_is_younger_until_two_years_and_then_is_not(born_on, early, days):
    due_on, on = born_on + timedelta(days=early), born_on + timedelta(days=days)
    if on < ages.months_after(born_on, 24):
        assert ages.corrected_days(born_on, due_on, on) == days - early
    else:
        assert ages.corrected_days(born_on, due_on, on) == days


@given(DAYS, st.integers(-21, 21), st.integers(0, 1500))
def test_a_child_born_at_term_is_never_corrected(born_on, early, days):
    on = born_on + timedelta(days=days)
    assert ages.corrected_days(born_on, born_on + timedelta(days=early), on) == days
    assert ages.corrected_days(born_on, None, on) == days


def test_the_unit_sets_how_long_ages_are_corrected():
    born_on, due_on = date(2024, 1, 1), date(2024, 3, 1)
    on = date(2025, 6, 1)
    assert ages.corrected_days(born_on, due_on, on) == (on - due_on).days
    assert ages.corrected_days(born_on, due_on, on, until_months=12) == (on - born_on).days


@given(DAYS, st.integers(-100, 1000))
def test_the_verdict_follows_the_calendar(born_on, days):
    on = born_on + timedelta(days=days)
    verdict = advise(born_on, None, on).verdict
    best_on = ages.best_sitting_on(born_on, 4)
    if days < 0:
        assert verdict == "before_birth"
    elif days < 84:
        assert verdict == "too_young"
    elif abs((on - best_on).days) <= 21:
        assert verdict == "best"
    else:
        assert verdict == ("early" if on < best_on else "later")


@pytest.mark.parametrize(
    ("on", "verdict"),
    [
        (date(2026, 11, 28), "early"),
        (date(2026, 11, 29), "best"),
        (date(2027, 1, 10), "best"),
        (date(2027, 1, 11), "later"),
    ],
)
def test_three_weeks_either_side_of_four_months_are_good(on, verdict):
    assert advise(date(2026, 8, 20), None, on).verdict == verdict


def test_on_the_second_birthday_the_correction_ends():
    born_on, due_on = date(2024, 1, 1), date(2024, 3, 1)
    assert ages.corrected_days(born_on, due_on, date(2025, 12, 31)) == 670
    assert ages.corrected_days(born_on, due_on, date(2026, 1, 1)) == 731


@given(DAYS, st.integers(-60, 900), st.integers(4, 30), st.integers(1, 12))
def test_waiting_never_goes_back_a_verdict(born_on, days, weeks, months):
    def rank(on):
        advice = advise(born_on, None, on, weeks, months)
        return ORDER.index(advice.verdict)

    on = born_on + timedelta(days=days)
    assert rank(on) <= rank(on + timedelta(days=1))


BORN_ON = date(2026, 8, 20)


@pytest.mark.parametrize(
    ("on", "verdict", "age", "sentence"),
    [
        (
            date(2026, 8, 1),
            "before_birth",
            "not born yet",
            (
                "Not born yet then: from Thu 12 Nov, and about 4 months is best (common practice), "
                "around Sun 20 Dec."
            ),
        ),
        (
            date(2026, 11, 11),
            "too_young",
            "11 weeks",
            (
                "11 weeks: too young, such hands stay curled. From Thu 12 Nov (12 weeks) at the "
                "earliest; about 4 months is best (common practice), around Sun 20 Dec."
            ),
        ),
        (
            date(2026, 11, 12),
            "early",
            "12 weeks",
            "12 weeks: possible, though about 4 months is best (common practice), around Sun 20 Dec.",
        ),
        (
            date(2026, 12, 3),
            "best",
            "15 weeks",
            "15 weeks: a good age; about 4 months is best (common practice).",
        ),
        (
            date(2027, 3, 20),
            "later",
            "7 months",
            (
                "7 months: it can be done, though about 4 months is best (common practice); allow time "
                "for a second try."
            ),
        ),
    ],
)
def test_the_owner_reads_plain_words(on, verdict, age, sentence):
    assert advise(BORN_ON, None, on) == ages.Advice(verdict, age, sentence)


def test_the_year_is_said_where_the_best_day_lies_in_another():
    advice = advise(date(2026, 12, 1), None, date(2026, 12, 20))
    assert "From Tue 23 Feb 2027 (12 weeks)" in advice.sentence


def test_an_early_birth_is_mentioned_beside_the_advice():
    due_on = date(2026, 10, 1)
    best = advise(BORN_ON, due_on, date(2026, 12, 3))
    assert best.verdict == "best", "the gate counts from birth"
    assert best.sentence.endswith(
        "Born early: 9 weeks by the due date, so expect smaller hands and feet."
    )
    tiny = advise(BORN_ON, due_on, date(2026, 9, 1))
    assert "the due date is only on Thu 1 Oct" in tiny.sentence
    assert "early" not in advise(BORN_ON, date(2026, 8, 27), date(2026, 12, 3)).sentence
    assert "Born early" not in advise(BORN_ON, due_on, date(2028, 9, 1)).sentence


@pytest.mark.parametrize(
    ("on", "note"),
    [
        (date(2026, 8, 19), ""),
        (BORN_ON, " Born early: the due date is only on Thu 1 Oct, so expect very small"),
        (date(2026, 10, 1), " Born early: born today by the due date, so expect smaller"),
        (date(2026, 10, 2), " Born early: 1 day by the due date, so expect smaller"),
    ],
)
def test_an_early_birth_is_mentioned_from_the_day_of_birth_and_counted_from_the_due_date(on, note):
    due_on = date(2026, 10, 1)
    plain, told = advise(BORN_ON, None, on), advise(BORN_ON, due_on, on)
    assert told.sentence.removeprefix(plain.sentence).startswith(note)
    assert bool(note) == (told.sentence != plain.sentence)
    assert plain.verdict == ("too_young" if on >= BORN_ON else "before_birth")


def test_the_unit_sets_its_own_ages():
    advice = advise(BORN_ON, None, date(2026, 11, 12), weeks=14, months=5)
    assert advice.verdict == "too_young"
    assert "(14 weeks)" in advice.sentence
    assert "about 5 months is best" in advice.sentence
    assert "about 1 month is best" in advise(BORN_ON, None, BORN_ON, months=1).sentence
