"""What is true of every plan, of whatever bench."""

from dataclasses import replace
from datetime import timedelta

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from production.planning.solver.model import Bench, Drying, Job, Piece, Pin
from production.planning.solver.planner import plan_quickly, plan_solved
from tests.planning.checker import breaches
from tests.planning.weeks import TODAY

DAY = timedelta(days=1)

few = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@st.composite
def dryings(draw):
    days = sorted(draw(st.lists(st.integers(1, 12), min_size=3, max_size=3)))
    return Drying(*days)


@st.composite
def pieces(draw, key):
    drying = draw(dryings())
    stage = draw(st.sampled_from(("print", "mould", "rack", "dry")))
    ago = draw(st.integers(0, 8)) * DAY
    if stage == "print":
        taken = TODAY + draw(st.integers(-1, 6)) * DAY
        lasts = draw(st.integers(4, 6)) * DAY
        return Piece(key, drying, taken, taken + lasts, volume_ml=draw(st.integers(100, 900)))
    if stage == "mould":
        return Piece(key, drying, poured_on=TODAY - ago)
    return Piece(key, drying, demoulded_on=TODAY - ago, is_dry=stage == "dry")


@st.composite
def jobs(draw, most=6):
    made = []
    for number in range(draw(st.integers(1, most))):
        own = [draw(pieces(str(place))) for place in range(draw(st.integers(1, 3)))]
        promised = draw(st.one_of(st.none(), st.integers(-3, 25)))
        made.append(
            Job(
                f"J{number}",
                tuple(own),
                promised_on=None if promised is None else TODAY + promised * DAY,
                frame_minutes=draw(st.sampled_from((30, 60, 90))),
                finish=draw(st.sampled_from(("oil", "white"))),
                cure_days=draw(st.integers(0, 3)),
                by_courier=draw(st.booleans()),
                weight=draw(st.integers(1, 3)),
            )
        )
    return made


@st.composite
def benches(draw):
    return Bench(
        minutes_by_weekday=(*(draw(st.sampled_from((0, 180, 300))) for _ in range(4)), 240, 0, 0),
        days_off=frozenset(TODAY + n * DAY for n in draw(st.sets(st.integers(0, 20), max_size=4))),
        taken_minutes={TODAY + n * DAY: 90 for n in draw(st.sets(st.integers(0, 20), max_size=4))},
        mould_days=draw(st.integers(0, 1)),
        # Casts that wait for another of their job must not fill the rack between them.
        rack_places=draw(st.integers(18, 24)),
        framing_minutes_per_day=draw(st.sampled_from((120, 170))),
        courier_weekdays=frozenset({4}),
    )


@few
@given(jobs(), benches())
def test_no_plan_breaks_anything(these, bench):
    """No step before its predecessor, no work on days off, no capacity broken; both plans."""
    for plan in (plan_quickly(these, bench, TODAY), plan_solved(these, bench, TODAY, effort=0.02)):
        assert breaches(these, bench, plan, TODAY) == []


@few
@given(jobs(), benches())
def test_a_plan_of_a_plan_is_the_same(these, bench):
    quick = plan_quickly(these, bench, TODAY)
    assert plan_quickly(these, bench, TODAY, quick).score.moves == 0
    solved = plan_solved(these, bench, TODAY)
    again = plan_solved(these, bench, TODAY, solved)
    assert again.score <= replace(solved.score, moves=0)
    if solved.is_proven:
        assert again.score.moves == 0


@few
@given(jobs(most=4), benches(), st.data())
def test_a_pin_never_moves(these, bench, data):
    """Each step pinned to a day on which a plan had it, or one some days later."""
    plan = plan_quickly(these, bench, TODAY)
    steps = [
        (job, step)
        for job, planned in zip(these, plan.jobs, strict=True)
        for step in planned.steps
        if step.kind in {"pour", "demould", "frame", "hand_over"}
    ]
    if not steps:
        return
    job, step = data.draw(st.sampled_from(steps))
    later = data.draw(st.integers(0, 3)) * DAY if step.kind in {"frame", "hand_over"} else 0 * DAY
    pinned = replace(job, pins=(Pin(step.kind, step.on + later, step.piece),))
    others = [pinned if each is job else each for each in these]
    for again in (
        plan_quickly(others, bench, TODAY),
        plan_quickly(others, bench, TODAY, plan),
        plan_solved(others, bench, TODAY, plan, effort=0.05),
    ):
        found = next(
            each
            for each in again.job_plan(job.key).steps
            if (each.kind, each.piece) == (step.kind, step.piece)
        )
        assert (found.on, found.pinned) == (step.on + later, True)


@few
@given(
    jobs(),
    benches(),
    st.sampled_from(("rack", "framing", "minutes", "buckets", "setup", "couriers")),
)
def test_more_capacity_never_makes_the_optimum_worse(these, bench, what):
    more = {
        "rack": {"rack_places": bench.rack_places + 6},
        "framing": {"framing_minutes_per_day": bench.framing_minutes_per_day + 60},
        "minutes": {
            "minutes_by_weekday": (*(m + 60 if m else 0 for m in bench.minutes_by_weekday),)
        },
        "buckets": {"pours_per_day": bench.pours_per_day + 1},
        "setup": {"setup_minutes": bench.setup_minutes - 10},
        "couriers": {"courier_weekdays": bench.courier_weekdays | {1}},
    }
    poor = plan_solved(these, bench, TODAY)
    rich = plan_solved(these, replace(bench, **more[what]), TODAY)
    assert rich.score.lost_prints <= poor.score.lost_prints
    if rich.is_proven and rich.score.lost_prints == poor.score.lost_prints:
        assert rich.score.late_days <= poor.score.late_days
