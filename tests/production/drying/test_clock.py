"""The clock of a cast in a room that changes."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.drying.by_weight import Weighed
from production.drying.clock import USUAL_CLOCK, DryingClock, drying_clock
from production.drying.forecast import Prior, forecast_drying

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)

HOURS = st.integers(-400, 400)

PACES = st.floats(0.1, 4)


def at(hours):
    return NOON + timedelta(hours=hours)


@st.composite
def clocks(draw):
    hours = sorted(draw(st.sets(HOURS, max_size=6)))
    paces = draw(st.lists(PACES, min_size=len(hours) + 1, max_size=len(hours) + 1))
    return DryingClock(tuple(at(hour) for hour in hours), tuple(paces))


@given(clock=clocks(), start=HOURS, days=st.floats(0, 60))
def test_when_so_many_days_have_passed_so_many_have(clock, start, days):
    then = clock.after(at(start), days)
    assert clock.passed_days(at(start), then) == pytest.approx(days, abs=1e-6)


@given(clock=clocks(), times=st.tuples(HOURS, HOURS, HOURS))
def test_days_add_up_and_never_run_backwards(clock, times):
    first, middle, last = (at(hour) for hour in sorted(times))
    whole = clock.passed_days(first, last)
    assert whole >= 0
    parts = clock.passed_days(first, middle) + clock.passed_days(middle, last)
    assert parts == pytest.approx(whole, abs=1e-6)
    assert clock.passed_days(last, first) == -whole


@given(start=HOURS, days=st.floats(0, 60))
def test_in_the_usual_room_they_are_those_of_the_calendar(start, days):
    assert USUAL_CLOCK.after(at(start), days) - at(start) == timedelta(days=days)


def test_a_reading_holds_half_the_way_to_the_next_and_three_days_at_the_most():
    clock = drying_clock([(at(0), 0.5), (at(48), 2.0), (at(48 + 24 * 20), 0.25)], at(48 + 24 * 21))
    assert clock.passed_days(at(-200), at(-72)) == pytest.approx(128 / 24)
    assert clock.passed_days(at(-72), at(24)) == pytest.approx(0.5 * 4)
    assert clock.passed_days(at(24), at(48 + 72)) == pytest.approx(2 * 4)
    assert clock.passed_days(at(200), at(300)) == pytest.approx(100 / 24), "nobody looked"
    assert clock.passed_days(at(48 + 24 * 20), at(48 + 24 * 30)) == pytest.approx(2.5)


def test_what_was_read_long_ago_says_nothing_of_the_days_to_come():
    clock = drying_clock([(at(0), 0.5)], at(24 * 10))
    assert clock.passed_days(at(24 * 10), at(24 * 14)) == 4


def test_a_reading_of_tomorrow_is_not_known_today():
    assert drying_clock([(at(24), 0.5)], at(0)) == USUAL_CLOCK


def test_a_clock_never_stands_still():
    for changes, paces in (((), (0.0,)), ((NOON,), (1.0,))):
        with pytest.raises(ValueError, match="one pace more than changes"):
            DryingClock(changes, paces)


def test_a_slower_room_stretches_the_days_that_are_left():
    """Half dry when the room turns half as fast: what is left takes twice as long."""
    prior = Prior(8, 0.2, 450, 20, 0.7, 0.003)
    usual = forecast_drying([], demoulded_at=NOON, prior=prior, scale_g=1)
    turned = forecast_drying(
        [],
        demoulded_at=NOON,
        prior=prior,
        scale_g=1,
        clock=DryingClock((NOON + timedelta(days=4),), (1.0, 0.5)),
    )
    assert usual.likely_at == NOON + timedelta(days=8)
    assert turned.likely_at == NOON + timedelta(days=12)


def test_the_weighings_of_a_damp_week_are_no_slow_cast():
    """The same masses, taken in days that counted half: by the clock it is the quicker cast."""
    prior = Prior(8, 0.35, 450, 20, 0.7, 0.003)
    weighed = [Weighed(NOON + timedelta(days=day), 450 - 135 * (1 - 0.7**day)) for day in range(5)]
    calendar = forecast_drying(weighed, demoulded_at=NOON, prior=prior, scale_g=1)
    dry_now = DryingClock((NOON + timedelta(days=4),), (0.5, 1.0))
    by_clock = forecast_drying(weighed, demoulded_at=NOON, prior=prior, scale_g=1, clock=dry_now)
    assert by_clock.likely_at < calendar.likely_at
