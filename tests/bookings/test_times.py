"""Local clock times as moments: the hours that the clocks skip and show twice.

London 2026: forward on 29 March, back on 25 October (IANA tz database, read through zoneinfo).
"""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings import times

LONDON = "Europe/London"

ZONES = st.sampled_from([LONDON, "Europe/Dublin", "America/St_Johns", "Australia/Lord_Howe", "UTC"])

DAYS = st.dates(date(2000, 1, 1), date(2099, 12, 31))


@pytest.mark.parametrize(
    ("day", "clock", "utc"),
    [
        # 10:30 before and after the clocks went back: as in the calendar facts of the trade notes.
        (date(2026, 10, 24), time(10, 30), datetime(2026, 10, 24, 9, 30, tzinfo=UTC)),
        (date(2026, 10, 25), time(10, 30), datetime(2026, 10, 25, 10, 30, tzinfo=UTC)),
        (date(2026, 10, 25), time(1, 30), datetime(2026, 10, 25, 0, 30, tzinfo=UTC)),
        (date(2026, 3, 29), time(0, 59), datetime(2026, 3, 29, 0, 59, tzinfo=UTC)),
        (date(2026, 3, 29), time(2, 0), datetime(2026, 3, 29, 1, 0, tzinfo=UTC)),
    ],
)
def test_a_clock_time_is_one_moment(day, clock, utc):
    assert times.to_utc(day, clock, LONDON) == utc


@pytest.mark.parametrize("minute", [0, 30, 59])
def test_an_hour_that_the_clocks_skip_is_refused_in_a_sentence(minute):
    with pytest.raises(ValueError, match=r"no 01:\d\d on Sun 29 Mar: the clocks go forward") as no:
        times.to_utc(date(2026, 3, 29), time(1, minute), LONDON)
    assert f"Choose 02:{minute:02}" in str(no.value)


@pytest.mark.parametrize(
    ("day", "clock", "zone"),
    [(date.min, time(0), "Asia/Tokyo"), (date.max, time(23, 30), "America/New_York")],
)
def test_a_moment_beyond_the_calendar_is_refused(day, clock, zone):
    with pytest.raises(ValueError, match="outside the calendar"):
        times.to_utc(day, clock, zone)


@given(DAYS, st.times(), ZONES)
def test_what_is_set_is_what_the_clocks_show(day, clock, zone):
    clock = clock.replace(second=0, microsecond=0)
    try:
        found = times.to_utc(day, clock, zone)
    except ValueError:
        # Only where both neighbours in UTC lie on either side of the missing hour.
        start, end = times.day_bounds(day, zone)
        assert end - start < timedelta(days=1)
        return
    shown = times.to_local(found, zone)
    assert (shown.date(), shown.time()) == (day, clock)
    assert found.tzinfo is UTC
    earlier = times.to_local(found - timedelta(hours=1), zone)
    assert (earlier.date(), earlier.time()) != (day, clock), "the first of two equal hours"


@given(DAYS, ZONES)
def test_days_follow_each_other_without_gap_or_overlap(day, zone):
    start, end = times.day_bounds(day, zone)
    assert end == times.day_bounds(day + timedelta(days=1), zone)[0]
    assert timedelta(hours=23) <= end - start <= timedelta(hours=25)
    assert times.local_day(start, zone) == day
    assert times.local_day(end - timedelta(microseconds=1), zone) == day
    assert times.day_bounds(day, zone, 7)[0] == start


def test_times_are_said_in_local_time():
    start = datetime(2026, 7, 1, 9, tzinfo=UTC)
    assert times.format_span(start, start + timedelta(minutes=45), LONDON) == "10:00–10:45"
    assert times.format_time(start, LONDON) == "Wed 1 Jul, 10:00"
    assert times.format_time(start, LONDON, date(2027, 1, 1)) == "Wed 1 Jul 2026, 10:00"
