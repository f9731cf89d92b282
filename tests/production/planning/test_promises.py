"""What can be promised, the last sitting for a day, and a week off."""

from collections import Counter
from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.planning.solver.comparison import moved_steps, what_if
from production.planning.solver.model import Bench, Drying, Job, Piece, Pin
from production.planning.solver.planner import plan_quickly, plan_solved
from production.planning.solver.promises import (
    Disruption,
    FutureSittings,
    delivery_promise,
    future_sittings,
    last_sitting_for,
)
from tests.planning.weeks import TODAY, week

DAY = timedelta(days=1)

# An ordinary piece: about a week, common practice, no source; the interval is the forecast's own before any weighing.
ORDINARY = Drying(4.5, 7.0, 11.0)


def sitting(on=TODAY, pieces=2):
    made = tuple(
        Piece(str(n), ORDINARY, pour_from=on, pour_by=on + 2 * DAY, volume_ml=300)
        for n in range(pieces)
    )
    return Job("new", made, frame_minutes=60, cure_days=1)


def test_an_empty_bench_promises_about_two_weeks():
    """About two weeks: common practice, no source. A sitting on a Friday waits over one weekend more."""
    days = []
    for weekday in range(5):
        on = TODAY + weekday * DAY
        promised = delivery_promise([], Bench(), TODAY, sitting(on))
        assert promised.sitting_on == on
        assert promised.soonest_on <= promised.on
        assert promised.likely_on < promised.on
        days.append(promised.days)
    assert 13 <= sum(days) / len(days) <= 16
    assert max(days) <= 18


def test_the_same_facts_promise_the_same_day():
    jobs, bench = week(1, 12)
    asked = [delivery_promise(jobs, bench, TODAY, sitting()) for _ in range(2)]
    assert asked[0] == asked[1]


def test_load_doubt_and_lost_days_put_a_promise_off():
    alone = delivery_promise([], Bench(), TODAY, sitting())
    slow = Bench(framing_minutes_per_day=80, rack_places=3)
    waiting = [
        replace(sitting(TODAY, 3), key=f"J{n}", promised_on=TODAY + (20 + n) * DAY)
        for n in range(6)
    ]
    assert (
        delivery_promise(waiting, slow, TODAY, sitting()).on
        > delivery_promise([], slow, TODAY, sitting()).on
    )
    assert delivery_promise([], Bench(), TODAY, sitting(), disruption=Disruption(0.3)).on > alone.on
    assert delivery_promise([], Bench(), TODAY, sitting(), disruption=Disruption(0)).on <= alone.on
    assert delivery_promise([], Bench(), TODAY, sitting(), confidence=0.5).on == alone.likely_on
    assert delivery_promise([], Bench(), TODAY, sitting(), confidence=0.99).on > alone.on


def test_those_who_will_still_book_put_a_promise_off_where_the_bench_is_narrow():
    narrow = Bench(framing_minutes_per_day=80, rack_places=4)
    later = sitting(TODAY + 14 * DAY)
    alone = delivery_promise([], narrow, TODAY, later)
    assert delivery_promise([], narrow, TODAY, later, coming=FutureSittings(0, sitting())) == alone
    busy = delivery_promise([], narrow, TODAY, later, coming=FutureSittings(1, sitting()))
    assert busy.on > alone.on
    assert busy.soonest_on == alone.soonest_on, "with the bench to itself"
    assert delivery_promise([], narrow, TODAY, later, coming=FutureSittings(1, sitting())) == busy
    with pytest.raises(ValueError, match="no bench's"):
        FutureSittings(7, sitting())


@given(
    a_day=st.floats(0, 6), booked=st.lists(st.integers(0, 20), max_size=12), on=st.integers(0, 12)
)
def test_a_day_gets_what_it_lacks_and_a_day_off_nothing(a_day, booked, on):
    """Up to a week behind the sitting that is asked for."""
    bench = Bench()
    jobs = [sitting(TODAY + day * DAY) for day in booked]
    mine = replace(sitting(TODAY + on * DAY), promised_on=TODAY + (on + 15) * DAY)
    chances = Counter()
    for job, chance in future_sittings(jobs, bench, TODAY, mine, FutureSittings(a_day, sitting())):
        day = (job.pieces[0].pour_from - TODAY).days
        chances[day] += chance
        assert 0 < chance <= 1
        assert job.promised_on == TODAY + (day + 15) * DAY
    for day in range(1, on + 8):
        lacking = a_day - booked.count(day) if bench.is_open(TODAY + day * DAY) else 0
        assert chances[day] == pytest.approx(max(lacking, 0), abs=1e-9)
    assert set(chances) <= set(range(1, on + 8))


def test_nobody_is_promised_a_day_off_or_one_without_a_courier():
    bench = Bench(courier_weekdays=frozenset({2}))
    for n in range(5):
        asked = delivery_promise(
            [], bench, TODAY, replace(sitting(TODAY + n * DAY), by_courier=True)
        )
        assert asked.on.weekday() == 2


def test_the_last_sitting_for_a_day_is_promised_by_then_and_the_next_is_not():
    jobs, bench = week(2, 12)
    wished = TODAY + 40 * DAY
    found = last_sitting_for(wished, jobs, bench, TODAY, sitting())
    assert found.on <= wished
    assert 8 <= (wished - found.sitting_on).days <= 25
    after = found.sitting_on + DAY
    while not bench.is_open(after):
        after += DAY
    assert delivery_promise(jobs, bench, TODAY, sitting(after)).on > wished


def test_there_is_no_sitting_for_the_day_after_tomorrow():
    assert last_sitting_for(TODAY + 2 * DAY, [], Bench(), TODAY, sitting()) is None
    assert last_sitting_for(TODAY - DAY, [], Bench(), TODAY, sitting()) is None


def test_what_cannot_be_promised_says_so():
    off = frozenset(TODAY + n * DAY for n in range(800))
    with pytest.raises(ValueError, match="no day within two years"):
        delivery_promise([], Bench(days_off=off), TODAY, sitting())
    with pytest.raises(ValueError, match="confidence"):
        delivery_promise([], Bench(), TODAY, sitting(), confidence=1.0)
    with pytest.raises(ValueError, match="share of lost days"):
        Disruption(1.0)


def test_a_week_off_names_those_whom_it_makes_late():
    dry = Piece("hand", ORDINARY, demoulded_on=TODAY - 9 * DAY, is_dry=True)
    soon = Job("soon", (dry,), TODAY + 4 * DAY)
    later = Job(
        "later",
        (replace(dry, is_dry=False),),
        TODAY + 9 * DAY,
        pins=(Pin("frame", TODAY + 8 * DAY),),
    )
    off = [TODAY + n * DAY for n in range(5)]
    answer = what_if([soon, later], Bench(), TODAY, off)
    # Framed on the Monday after and cured by Tuesday, four days after the promise.
    assert [(job.key, job.late_days, job.more_late_days) for job in answer.later] == [
        ("soon", 4, 4)
    ]
    assert answer.more_late_days == 4
    assert {(move.key, move.kind) for move in answer.moved} == {
        ("soon", "frame"),
        ("soon", "hand_over"),
    }
    assert answer.days_off == frozenset(off)
    assert what_if([soon, later], Bench(), TODAY, off, effort=0.05).more_late_days == 4


def test_clay_that_does_not_last_over_the_days_off_is_told():
    off = [TODAY + n * DAY for n in range(7)]
    answer = what_if([replace(sitting(), promised_on=TODAY + 30 * DAY)], Bench(), TODAY, off)
    assert answer.lost_prints == 2
    assert answer.plan.job_plan("new").warnings


@pytest.mark.parametrize("planned", [plan_quickly, plan_solved])
def test_a_slip_moves_only_what_it_must(planned):
    """One framing a day; the first of four dries a day later: it alone goes behind the others."""
    one_a_day = Bench(framing_minutes_per_day=80)
    jobs = [
        Job(key, (Piece("hand", Drying(1, 1, 1 + n), demoulded_on=TODAY),), TODAY + 11 * DAY)
        for n, key in enumerate("ABC")
    ]
    before = planned(jobs, one_a_day, TODAY)
    assert [framed_on(before, key) for key in "ABC"] == [TODAY + n * DAY for n in (1, 2, 3)]
    slower = replace(jobs[0].pieces[0], drying=Drying(1, 2, 2))
    after = planned([replace(jobs[0], pieces=(slower,)), *jobs[1:]], one_a_day, TODAY, before)
    assert [framed_on(after, key) for key in "ABC"] == [TODAY + n * DAY for n in (4, 2, 3)]
    assert [(move.key, move.kind) for move in moved_steps(after) if move.kind == "frame"] == [
        ("A", "frame")
    ]
    assert after.score.moves == 1


def framed_on(plan, key):
    return next(step.on for step in plan.job_plan(key).steps if step.kind == "frame")
