"""What the planned work takes, by hand."""

from datetime import UTC, date, datetime, timedelta

from production.planning.work_ahead import work_ahead
from production.schedule.facts import Habits, JobFacts, PieceFacts, Planned
from production.stores import needs

MONDAY = date(2026, 11, 23)
HABITS = Habits(clay_rest_hours=24, demould_hours=2)
PRINT = needs.Consumption("print", 900, 95)


def at(days, hour=10):
    return datetime(2026, 11, 23, hour, tzinfo=UTC) + timedelta(days=days)


def steps(**days):
    """Planned steps, each so many days from Monday."""
    return tuple(Planned(kind, MONDAY + timedelta(days=on)) for kind, on in days.items())


def job(*pieces, promised=20, **more):
    return JobFacts(
        "CY8YEGPH", "Ada", pieces, promised_on=MONDAY + timedelta(days=promised), **more
    )


def ahead(*jobs):
    return work_ahead(jobs, HABITS, MONDAY)


def test_a_booked_pair_takes_clay_at_its_sitting_and_plaster_when_it_is_poured():
    pieces = [
        PieceFacts(
            "Ada", limb, taken_at=at(3), plaster_g=grams, planned=steps(pour=3, demould=3, weigh=7)
        )
        for limb, grams in (("left hand", 250), ("right hand", 260))
    ]
    work = ahead(job(*pieces, planned=steps(frame=12, hand_over=13)))
    assert needs.planned_needs(work, needs.Consumption("pour")) == {3: 510}
    assert needs.planned_needs(work, PRINT) == {3: 2 * 900 - 2 * 855}
    assert needs.planned_needs(work, needs.Consumption("home", 1)) == {20: 1}
    frames = needs.planned_needs(work, needs.Consumption("frame", 1303))
    assert frames == {12: 1303}
    assert needs.planned_needs(work, needs.Consumption("glazed", 90)).keys() == frames.keys()
    assert needs.planned_needs(work, needs.Consumption("hand", 5)) == {}


def test_clay_that_lies_in_the_trays_comes_back():
    taken = PieceFacts(
        "Ada",
        "left hand",
        at(-1, 15),
        is_taken=True,
        plaster_g=250,
        planned=steps(pour=0, demould=0),
    )
    work = ahead(job(taken))
    assert needs.planned_needs(work, PRINT) == {0: -855}
    assert needs.planned_needs(work, needs.Consumption("pour")) == {0: 250}


def test_a_frame_that_is_begun_takes_nothing_more():
    dry = PieceFacts("Ada", "left hand", taken_at=at(-9), is_taken=True, is_dry=True)
    planned = steps(frame=0, hand_over=1)
    begun = ahead(job(dry, framing_since=MONDAY - timedelta(days=1), planned=planned))
    assert needs.planned_needs(begun, needs.Consumption("frame", 1303)) == {}
    assert needs.planned_needs(begun, needs.Consumption("home", 1)) == {20: 1}
    waiting = ahead(job(dry, planned=planned))
    assert needs.planned_needs(waiting, needs.Consumption("frame", 1303)) == {0: 1303}


def test_what_is_late_is_counted_for_today():
    late = PieceFacts(
        "Ada", "left hand", at(-5), is_taken=True, plaster_g=250, planned=steps(pour=-3)
    )
    assert needs.planned_needs(ahead(job(late, promised=-1)), needs.Consumption("pour")) == {0: 250}


def test_what_a_frame_will_be_cut_of_is_needed_on_its_day_even_when_it_is_begun():
    dry = PieceFacts("Ada", "left hand", taken_at=at(-9), is_taken=True, is_dry=True)
    cuts = {"CY8YEGPH": {7: 1303, 8: 75_000}, "ANOTHER0": {7: 1}}
    for begun in (None, MONDAY - timedelta(days=1)):
        framed = job(dry, framing_since=begun, planned=steps(frame=0, hand_over=1))
        found = work_ahead([framed], HABITS, MONDAY, cuts)
        assert needs.planned_needs(found, needs.Consumption("cut", number=7)) == {0: 1303}
        assert needs.planned_needs(found, needs.Consumption("cut", number=8)) == {0: 75_000}
        assert needs.planned_needs(found, needs.Consumption("cut", number=9)) == {}
