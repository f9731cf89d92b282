"""When to order how much: by hand, and what holds for any material."""

import math
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.stores import reorder

MONDAY = date(2026, 11, 23)
WEEKLY = st.lists(st.integers(0, 50_000), max_size=26)
BUYING = st.builds(
    reorder.PurchaseTerms,
    pack=st.integers(1, 30_000),
    lead_days=st.floats(0, 30),
    lead_sd_days=st.floats(0, 5),
    service_percent=st.integers(50, 99),
    cover_days=st.integers(1, 60),
    keep_days=st.none() | st.integers(1, 365),
    known_days=st.integers(0, 30),
)


def buying(**more):
    facts = {"pack": 25_000, "lead_days": 4, "lead_sd_days": 0, "service_percent": 98}
    return reorder.PurchaseTerms(**{**facts, "cover_days": 28, **more})


# --- by hand ----------------------------------------------------------------------------------------------------------


def test_the_same_every_week_has_no_spread():
    used = reorder.usage_statistics([1400] * 10)
    assert (used.per_day, used.week_sd, used.weeks) == pytest.approx((200, 0, 10))
    assert reorder.safety_stock(used, buying()) == 0


def test_the_later_weeks_count_more():
    rising, falling = (
        reorder.usage_statistics([700] * 8 + [1400] * 8),
        reorder.usage_statistics([1400] * 8 + [700] * 8),
    )
    # weights 1 and, eight weeks back, a half: (2 × 1400 + 1 × 700) / 3 a week
    assert rising.per_day * 7 == pytest.approx(3500 / 3)
    assert falling.per_day * 7 == pytest.approx(2800 / 3)


def test_few_weeks_tell_no_spread_so_a_whole_week_is_kept():
    assert reorder.usage_statistics([1400, 1400]).week_sd == pytest.approx(1400)
    assert reorder.usage_statistics([]) == reorder.Usage(0, 0, 0)


def test_safety_stock_by_the_textbook():
    # weekly spread 700 g, 14 days to delivery: two weeks' spread, 98 % → z = 2.0537
    used = reorder.Usage(per_day=200, week_sd=700, weeks=26)
    assert reorder.safety_stock(used, buying(lead_days=14)) == math.ceil(
        2.0537 * 700 * math.sqrt(2)
    )
    # all of it in the plan already: two tenths of the spread
    assert reorder.safety_stock(used, buying(lead_days=14, known_days=20)) == math.ceil(
        2.0537 * 700 * math.sqrt(2) * 0.2
    )
    assert reorder.safety_stock(used, buying(lead_days=14, service_percent=50)) == 0
    for percent in (49, 100):
        with pytest.raises(ValueError, match="service level"):
            reorder.safety_stock(used, buying(service_percent=percent))


def test_three_deliveries_tell_better_than_the_supplier():
    assert reorder.lead_time(5, [9, 9]) == (5, 0)
    mean, spread = reorder.lead_time(5, [6, 7, 8])
    assert (mean, spread) == (7, 1)
    assert reorder.safe_lead_days(buying(lead_days=mean, lead_sd_days=spread)) == 10  # 7 + 2.05


def test_the_plan_is_filled_up_to_usual_weeks_after_what_is_settled():
    needed = reorder.daily_needs({0: 500, 9: 2000}, per_day=100, known_days=7, days=21)
    assert needed[:7] == (500, 0, 0, 0, 0, 0, 0)
    assert needed[7:14] == (0, 0, 2000, 0, 0, 0, 0), "more than usual already"
    assert needed[14:] == pytest.approx([100] * 7)


def steady(stock, coming=None, **more):
    """200 g a day without any spread, from a Monday on; weekends closed."""
    used = reorder.Usage(200, 0, 26)
    closed = {day for n in range(200) if (day := MONDAY + timedelta(days=n)).weekday() >= 5}
    return reorder.outlook(
        MONDAY, stock, coming or {}, reorder.daily_needs({}, 200), used, buying(**more), closed
    )


def test_the_day_to_order_by_hand():
    found = steady(2000)  # lasts Monday to Wednesday of the next week, empty on Thursday
    assert found.cover_days == 10
    assert found.runs_out_on == date(2026, 12, 3)
    assert found.order_by == date(2026, 11, 27), "four days before is a Sunday: on the Friday"
    assert (found.packs, found.quantity) == (1, 25_000)
    assert (found.is_late, found.is_short) == (False, False)
    assert steady(2000, lead_days=7).order_by == date(2026, 11, 26)


def test_two_packs_where_one_does_not_last():
    assert steady(2000, cover_days=140).packs == 2
    assert steady(2000, cover_days=140, keep_days=100).packs == 1, "the rest would not keep"


def test_what_is_on_its_way_is_not_ordered_again():
    assert steady(2000, {9: 25_000}).order_by == date(
        2027, 4, 2
    )  # 27 kg last 135 days; less four, a Saturday: the Friday
    late = steady(200, {3: 25_000})
    assert late.is_short, "it runs dry before the van comes"
    assert late.order_by > date(2027, 1, 1), "and a second order would not come sooner"


def test_a_shelf_that_runs_dry_is_ordered_for_today_and_says_so():
    found = steady(300)
    assert (found.order_by, found.is_late, found.is_short) == (MONDAY, True, True)
    saturday = reorder.outlook(
        date(2026, 11, 28),
        0,
        {},
        reorder.daily_needs({}, 200),
        reorder.Usage(200, 0, 26),
        buying(),
        {date(2026, 11, 28)},
    )
    assert saturday.order_by == date(2026, 11, 28), "never before today"


def test_what_nobody_uses_is_never_ordered():
    found = reorder.outlook(
        MONDAY,
        0,
        {},
        reorder.daily_needs({}, 0),
        reorder.usage_statistics([]),
        buying(),
        frozenset(),
    )
    assert (found.order_by, found.packs, found.cover_days) == (None, 0, None)


# --- for any material -------------------------------------------------------------------------------------------------


@given(WEEKLY)
def test_a_mean_lies_between_the_least_and_the_most(weekly):
    used = reorder.usage_statistics(weekly)
    assert min(weekly, default=0) - 1e-6 <= used.per_day * 7 <= max(weekly, default=0) + 1e-6
    assert used.week_sd >= 0


@given(WEEKLY, BUYING, st.integers(1, 40))
def test_a_higher_level_a_longer_wait_or_less_in_the_plan_never_keeps_less(weekly, bought, more):
    used = reorder.usage_statistics(weekly)
    kept = reorder.safety_stock(used, bought)
    assert kept >= 0
    surer = min(bought.service_percent + more, 99)
    for other in (
        {"service_percent": surer},
        {"lead_days": bought.lead_days + more},
        {"known_days": max(bought.known_days - more, 0)},
    ):
        facts = {name: getattr(bought, name) for name in bought.__slots__}
        assert reorder.safety_stock(used, reorder.PurchaseTerms(**{**facts, **other})) >= kept


@given(
    st.dictionaries(st.integers(0, 181), st.integers(0, 9999), max_size=20),
    st.floats(0, 999),
    st.integers(0, 60),
)
def test_needs_hold_the_whole_plan_and_full_weeks_after_what_is_settled(planned, per_day, known):
    needed = reorder.daily_needs(planned, per_day, known)
    assert all(needed[day] >= quantity - 1e-6 for day, quantity in planned.items())
    assert sum(needed[:known]) == pytest.approx(
        sum(quantity for day, quantity in planned.items() if day < known)
    )
    assert sum(needed[known:]) >= per_day * (182 - known) - 1e-3


@given(st.integers(0, 10**5), WEEKLY, BUYING)
def test_ordered_by_its_day_and_delivered_in_time_the_shelf_never_falls_below_safety(
    stock, weekly, bought
):
    used = reorder.usage_statistics(weekly)
    needed = reorder.daily_needs({}, used.per_day)
    found = reorder.outlook(MONDAY, stock, {}, needed, used, bought)
    if found.order_by is None:
        return
    assert found.order_by >= MONDAY
    assert found.packs >= 1
    assert found.quantity == found.packs * bought.pack
    comes = (found.order_by - MONDAY).days + reorder.safe_lead_days(bought)
    levels = reorder.projected_stock(stock, {comes: found.quantity}, needed)
    if bought.keep_days is None:
        end = min(comes + bought.cover_days, len(levels))
        assert all(level >= found.safety - 1e-3 for level in levels[comes:end])
    if not found.is_late:
        assert all(level >= found.safety - 1e-3 for level in levels[:comes])
