"""The quick plan: nothing broken, the reasons in words, pins, and what was not done."""

from datetime import date, timedelta

import pytest
from ortools.sat.python import cp_model

from production.planning.solver.model import Bench, Drying, Job, Piece, Pin
from production.planning.solver.planner import plan_quickly, plan_solved
from tests.planning.checker import breaches, late_days
from tests.planning.weeks import TODAY, week

DAY = timedelta(days=1)

SOON = Drying(4.0, 5.0, 6.0)


def printed(key="hand", on=TODAY):
    return Piece(key, SOON, pour_from=on, pour_by=on + 2 * DAY, volume_ml=300)


def step_of(plan, key, kind, piece=""):
    return next(
        step for step in plan.job_plan(key).steps if (step.kind, step.piece) == (kind, piece)
    )


@pytest.mark.parametrize("jobs", [5, 12, 30, 60])
def test_no_capacity_is_broken(jobs):
    for seed in range(8):
        these, bench = week(seed, jobs)
        plan = plan_quickly(these, bench, TODAY)
        assert breaches(these, bench, plan, TODAY) == []
        assert plan.score.broken == 0
        assert plan.score.late_days == late_days(these, plan) >= plan.bound_late_days


def test_one_job_alone_goes_the_whole_way():
    job = Job("A", (printed(),), promised_on=TODAY + 14 * DAY, frame_minutes=60, cure_days=2)
    plan = plan_quickly([job], Bench(), TODAY)
    days = {step.kind: (step.on - TODAY).days for step in plan.job_plan("A").steps}
    # Poured and out on Monday, dry on the next Sunday at 90 %, framed on the Monday after, cured on Wednesday.
    assert days | {"weigh": 0} == {
        "pour": 0, "demould": 0, "weigh": 0, "frame": 7, "ready": 9, "hand_over": 9
    }  # fmt: skip
    framed = step_of(plan, "A", "frame")
    assert framed.why == "dry by Sun 6 Dec in nine cases of ten; you do not work on Sun 6 Dec"
    assert framed.slack_days == 4  # to Friday: cured on Sunday, ready on the promised Monday
    assert step_of(plan, "A", "ready").why == "the finish cures until Wed 9 Dec"
    assert plan.job_plan("A").slack_days == 5
    assert plan.is_proven


def test_a_full_rack_holds_a_cast_in_its_mould():
    lying = Job("A", (Piece("foot", SOON, demoulded_on=TODAY - 3 * DAY),), TODAY + 9 * DAY)
    coming = Job("B", (Piece("hand", SOON, poured_on=TODAY),), TODAY + 20 * DAY)
    plan = plan_quickly([lying, coming], Bench(rack_places=1), TODAY)
    # The foot is dry on Thursday at 90 % and then leaves the only place.
    assert step_of(plan, "A", "frame").on == TODAY + 3 * DAY
    out = step_of(plan, "B", "demould", "hand")
    assert (out.on, out.why) == (TODAY + 3 * DAY, "the rack is full until Thu 3 Dec")
    assert plan.job_plan("B").why.startswith(
        "the rack is full until Thu 3 Dec, then dry by Wed 9 Dec"
    )


def test_a_pin_holds_against_a_day_off_and_says_so():
    pin = Pin("frame", TODAY + 12 * DAY)  # a Saturday
    job = Job("A", (printed(),), TODAY + 20 * DAY, pins=(pin,))
    framed = step_of(plan_quickly([job], Bench(), TODAY), "A", "frame")
    assert (framed.on, framed.why, framed.pinned) == (pin.on, "pinned by you", True)


def test_a_pin_before_the_mould_opens_is_told():
    job = Job("A", (printed(on=TODAY + 3 * DAY),), pins=(Pin("frame", TODAY + DAY),))
    plan = plan_quickly([job], Bench(), TODAY)
    assert not step_of(plan, "A", "frame").pinned
    assert plan.job_plan("A").warnings == (
        "You pinned “frame” to Tue 1 Dec, but only on Fri 4 Dec its casts are out of their moulds.",
    )


@pytest.mark.parametrize("kind", ["pour", "demould", "frame", "hand_over"])
def test_a_pin_beyond_all_planning_is_told_and_holds_up_nobody(kind):
    """A year mistyped."""
    far = TODAY + 800 * DAY
    job = Job("A", (printed(),), pins=(Pin(kind, far),))
    for made in (plan_quickly, plan_solved):
        plan = made([job, Job("B", (printed(),))], Bench(), TODAY)
        assert max(step.on for key in "AB" for step in plan.job_plan(key).steps) < far
        (told,) = plan.job_plan("A").warnings
        assert "more than two years ahead" in told


def test_what_was_not_done_moves_on_with_a_reason():
    job = Job("A", (printed(),), TODAY + 14 * DAY)
    before = plan_quickly([job], Bench(), TODAY)
    after = plan_quickly([job], Bench(), TODAY + DAY, before)
    poured = step_of(after, "A", "pour", "hand")
    assert (poured.on, poured.moved_from) == (TODAY + DAY, TODAY)
    assert poured.moved_why == "not done on Mon 30 Nov"


def test_late_clay_is_a_warning_and_counted():
    small = Bench(moulds_per_pour=1, pours_per_day=1)
    jobs = [Job(key, (printed(),), TODAY + 20 * DAY) for key in "ABCD"]
    plan = plan_quickly(jobs, small, TODAY)
    assert plan.score.lost_prints == 1
    assert [job.key for job in plan.jobs if job.warnings] == ["D"]
    assert "the clay is too dry after Wed 2 Dec" in plan.job_plan("D").warnings[0]


def test_a_plan_of_a_plan_stays():
    for seed in range(5):
        these, bench = week(seed, 20)
        once = plan_quickly(these, bench, TODAY)
        twice = plan_quickly(these, bench, TODAY, once)
        assert twice.score.moves == 0
        assert [job.home_on for job in twice.jobs] == [job.home_on for job in once.jobs]


def test_two_years_of_days_off_are_no_plan():
    off = frozenset(TODAY + n * DAY for n in range(800))
    job = Job("A", (printed(),), TODAY + 14 * DAY)
    plan = plan_quickly([job], Bench(days_off=off), TODAY)
    assert plan.job_plan("A").home_on is None
    assert plan.job_plan("A").warnings == (
        "There is no day within two years on which it could be done.",
    )
    assert plan.score.broken


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: Bench(minutes_by_weekday=(0,) * 7),
        lambda: Bench(rack_places=0),
        lambda: Bench(framing_minutes_per_day=20, setup_minutes=20),
        lambda: Drying(3, 2, 4),
        lambda: Piece("hand", SOON),
        lambda: Piece("hand", SOON, pour_from=TODAY, pour_by=date(2026, 11, 29)),
        lambda: Job("A", ()),
        lambda: Job("A", (printed(),), frame_minutes=-1),
        lambda: Job("A", (printed(),), weight=0),
    ],
    ids=range(9),
)
def test_facts_that_cannot_be_are_refused(wrong):
    with pytest.raises(ValueError, match=r"\.$"):
        wrong()


def test_on_a_machine_that_crawls_the_clock_ends_the_search(monkeypatch):
    """A solver that is slow and does next to nothing: each of the three rounds gives up after one try."""

    class Crawling(cp_model.CpSolver):
        tries = 0
        wall_time = 24.0
        deterministic_time = 1e-6

        def solve(self, *args):
            Crawling.tries += 1
            return super().solve(*args)

    monkeypatch.setattr(cp_model, "CpSolver", Crawling)
    jobs, bench = week(3, 20)
    plan = plan_solved(jobs, bench, TODAY)
    assert 1 <= Crawling.tries <= 3
    assert breaches(jobs, bench, plan, TODAY) == []
