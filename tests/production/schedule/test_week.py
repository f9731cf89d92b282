"""The days of the bench: each stored step once, never before it is possible, the late carried with their reason."""

from collections import Counter
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.planning.solver import model as solver
from production.planning.solver.planner import plan_quickly
from production.schedule.facts import DAY, Habits, JobFacts, PieceFacts, Planned
from production.schedule.week import is_covered, is_to_weigh, plan, week

TODAY = date(2026, 12, 2)  # a Wednesday

WEEK = tuple(date(2026, 11, 30) + n * DAY for n in range(7))


def at(day, hour=10):
    return datetime(2026, 12, day, hour, tzinfo=UTC)


def hand(**facts):
    return PieceFacts("Ada", "left hand", **facts)


def job(*pieces, promised_on=date(2026, 12, 16), **facts):
    return JobFacts("CY8YEGPH", "Ada", pieces, promised_on=promised_on, **facts)


def step(kind, day, **facts):
    return Planned(kind, date(2026, 12, day), **facts)


def on_the_way(**facts):
    """A piece whose whole way is planned from Wed 2 Dec on."""
    steps = [("pour", 2), ("demould", 2), ("weigh", 2), ("weigh", 5), ("weigh", 9)]
    return hand(planned=tuple(step(kind, day) for kind, day in steps), **facts)


LAST = (step("frame", 9), step("ready", 10), step("hand_over", 10))


def planned(the_job, habits=Habits(), today=TODAY):  # noqa: B008 - frozen
    return [(task.kind, task.planned_on.day) for task in plan([the_job], habits, today)]


def test_the_stored_steps_are_the_tasks_and_it_is_handed_over_when_promised():
    assert planned(job(on_the_way(taken_at=at(2)), planned=LAST)) == [
        ("pour", 2),
        ("demould", 2),  # fresh from the mould it is weighed at once: that is one piece of work
        ("weigh", 5),
        ("weigh", 9),
        ("frame", 9),
        ("hand_over", 16),
    ]


def test_what_is_done_is_no_task_any_more():
    poured = on_the_way(taken_at=at(2), poured_at=at(2))
    assert planned(job(poured))[0] == ("demould", 2)
    out = replace(poured, demoulded_on=TODAY)
    assert planned(job(out)) == [("weigh", 2), ("weigh", 5), ("weigh", 9)]
    assert planned(job(replace(out, weighed_on=TODAY + 3 * DAY))) == [("weigh", 9)]
    dry = replace(out, is_dry=True)
    assert planned(job(dry, planned=LAST)) == [("frame", 9), ("hand_over", 16)]
    framing = job(out, planned=LAST, framing_since=TODAY)
    assert planned(framing) == [("frame", 9), ("hand_over", 16)]
    assert planned(replace(framing, is_ready=True)) == [("hand_over", 16)]


@pytest.mark.parametrize(
    ("hour", "day"),
    [(8, 2), (11, 2), (12, 3), (16, 3)],
    ids=["8:00: not left to the morning", "11:00: the same", "noon: by noon", "16:00: by 16:00"],
)
def test_a_pour_is_due_by_its_deadline_but_not_left_to_a_morning(hour, day):
    pour = plan([job(on_the_way(taken_at=at(2, hour)))], Habits(), TODAY)[0]
    assert (pour.kind, pour.due_on) == ("pour", date(2026, 12, day))
    assert pour.by == at(3, hour)


def test_a_long_rest_in_the_mould_takes_whole_days():
    assert [Habits(demould_hours=hours).mould_days for hours in (0, 8, 9, 30)] == [0, 0, 1, 2]


def test_clay_whose_hour_is_past_is_carried_with_its_reason():
    clay = on_the_way(taken_at=at(1, 8), is_taken=True)
    pour = plan([job(clay)], Habits(), date(2026, 12, 3))[0]
    assert pour.planned_on == date(2026, 12, 3)
    assert pour.is_late
    assert pour.late_why == "the clay was to be poured by Wed 2 Dec, 08:00"


def test_a_cast_left_in_the_mould_is_carried_with_its_reason():
    # As the plan had it yesterday, and as a plan of today moves it on.
    for left in (step("demould", 1), step("demould", 2, missed_on=date(2026, 12, 1))):
        out = plan([job(hand(poured_at=at(1, 9), planned=(left,)))], Habits(), TODAY)[0]
        assert (out.kind, out.planned_on, out.due_on) == ("demould", TODAY, date(2026, 12, 1))
        assert out.late_why == "ready since Tue 1 Dec"


def test_two_weighings_overdue_are_one_today():
    weighings = tuple(Planned("weigh", TODAY + n * DAY) for n in (-8, -4, 1))
    piece = hand(poured_at=at(1), demoulded_on=date(2026, 11, 24), planned=weighings)
    tasks = plan([job(piece)], Habits(), TODAY)
    assert [task.planned_on for task in tasks] == [TODAY, TODAY + DAY]
    assert tasks[0].late_why == "due Tue 24 Nov, never weighed"
    assert is_to_weigh(piece, TODAY)
    assert not is_to_weigh(replace(piece, demoulded_on=None), TODAY)


def test_a_piece_weighed_today_is_weighed_again_tomorrow_at_the_earliest():
    weighings = (step("weigh", 2), step("weigh", 3))
    piece = hand(poured_at=at(1), demoulded_on=TODAY, weighed_on=TODAY, planned=weighings)
    assert planned(job(piece)) == [("weigh", 3)]
    assert not is_to_weigh(piece, TODAY)


def test_one_piece_without_a_sitting_holds_up_the_frame_and_not_the_other_piece():
    both = job(on_the_way(taken_at=at(2)), PieceFacts("Ada", "right hand"), planned=LAST)
    assert {kind for kind, _ in planned(both)} == {"pour", "demould", "weigh"}


def test_what_is_not_poured_is_not_late_to_leave_its_mould():
    taken = on_the_way(taken_at=at(1, 9), is_taken=True)
    today = date(2026, 12, 4)
    pour, demould = plan([job(taken)], Habits(), today)[:2]
    assert (pour.kind, pour.is_late) == ("pour", True)
    assert (demould.kind, demould.planned_on, demould.late_why) == ("demould", today, "")


def test_a_sealed_frame_is_checked_on_the_day_it_is_ready():
    sealed = job(planned=LAST, framing_since=TODAY, steps_done=("mounted", "sealed"))
    assert planned(sealed) == [("frame", 10), ("hand_over", 16)]


def test_a_frame_that_cannot_keep_the_promise_says_so():
    soon = (step("frame", 2), step("hand_over", 2))
    tasks = plan([job(framing_since=TODAY, promised_on=TODAY, planned=soon)], Habits(), TODAY)
    assert [(task.kind, task.late_why) for task in tasks] == [
        ("frame", "promised for Wed 2 Dec"),
        ("hand_over", ""),
    ]


def test_a_finished_job_waits_for_its_promise_and_no_longer():
    ready = {"is_ready": True, "planned": (step("hand_over", 1),)}
    assert planned(job(**ready)) == [("hand_over", 16)]
    late = plan([job(**ready, promised_on=TODAY - DAY)], Habits(), TODAY)[0]
    assert (late.planned_on, late.late_why) == (TODAY, "promised for Tue 1 Dec")


def test_a_day_sums_its_pours_and_draws_the_pieces_of_a_job_together():
    left = on_the_way(taken_at=at(2), plaster_g=195.4, water_g=136.8)
    both = job(left, replace(left, limb="right hand"))
    day = week(WEEK, [both], Habits(), TODAY)[2]
    assert (day.on, day.plaster_g, day.water_g) == (TODAY, 390.8, 273.6)
    assert day.mix_words == "391 g of plaster, 274 g of water"
    pour, out = day.lines
    assert (pour.who, pour.limbs) == ("Ada", "left hand, right hand")
    assert (out.first.kind, out.limbs) == ("demould", "left hand, right hand")


def test_four_limbs_take_two_rows_of_a_sheet():
    limbs = ("left hand", "right hand", "left foot", "right foot")
    in_mould = on_the_way(poured_at=at(2, 8))
    four = job(*(replace(in_mould, limb=limb) for limb in limbs))
    line = week(WEEK, [four], Habits(), TODAY)[2].lines[0]
    assert [row.limbs for row in line.rows] == ["left hand, right hand", "left foot, right foot"]


def test_only_what_its_forerunner_allows_can_begin():
    whole_way = week(WEEK, [job(on_the_way(taken_at=at(2), is_taken=True))], Habits(), TODAY)[2]
    assert [task.kind for task in whole_way.tasks] == ["pour", "demould"]
    assert [task.kind for task in whole_way.to_begin.tasks] == ["pour"]
    only_booked = week(WEEK, [job(on_the_way(taken_at=at(2)))], Habits(), TODAY)[2]
    assert only_booked.to_begin.tasks == ()


days = st.dates(date(2026, 11, 1), date(2026, 12, 31))

moments = st.datetimes(datetime(2026, 11, 1), datetime(2026, 12, 31)).map(  # noqa: DTZ001
    lambda moment: moment.replace(tzinfo=UTC)
)


@st.composite
def pieces(draw, number):
    """A piece at any station, its dates in the order in which they happen."""
    facts = {"child": "Ada", "limb": f"limb {number}"}
    station = draw(st.sampled_from(["waits", "sitting", "clay", "mould", "damp", "dry"]))
    if station == "waits":
        return PieceFacts(**facts)
    taken_at = draw(moments)
    if station in ("sitting", "clay"):
        return PieceFacts(**facts, taken_at=taken_at, is_taken=station == "clay")
    poured_at = taken_at + timedelta(hours=draw(st.integers(0, 60)))
    if station == "mould":
        return PieceFacts(**facts, taken_at=taken_at, poured_at=poured_at)
    out_on = poured_at.date() + draw(st.integers(0, 4)) * DAY
    weighed_on = draw(st.none() | st.integers(0, 20).map(lambda n: out_on + n * DAY))
    dry_on = max(TODAY, out_on) + draw(st.integers(0, 28)) * DAY
    if weighed_on and weighed_on > TODAY:
        weighed_on = None
    return PieceFacts(
        **facts,
        taken_at=taken_at,
        poured_at=poured_at,
        demoulded_on=min(out_on, TODAY),
        weighed_on=weighed_on,
        dry_on=TODAY if station == "dry" else dry_on,
        is_dry=station == "dry",
    )


@st.composite
def jobs(draw):
    count = draw(st.integers(1, 4))
    found = []
    for number in range(draw(st.integers(0, 3))):
        of_job = tuple(draw(pieces(n)) for n in range(count))
        state = draw(st.sampled_from(["bench", "framing", "ready"]))
        found.append(
            JobFacts(
                reference=f"JOB{number}",
                names="Ada",
                pieces=of_job,
                promised_on=draw(st.none() | days),
                framing_since=min(draw(days), TODAY) if state == "framing" else None,
                is_ready=state == "ready",
            )
        )
    return found


habits = st.builds(Habits, st.integers(1, 72), st.integers(0, 72))


def solver_piece(piece, key, habits, is_dry):
    return solver.Piece(
        key=key,
        drying=solver.Drying(5, 7, 9),
        pour_from=piece.taken_at and piece.taken_at.date(),
        pour_by=piece.taken_at and habits.last_pour_day(piece.taken_at),
        poured_on=piece.poured_at and piece.poured_at.date(),
        demoulded_on=piece.demoulded_on,
        is_dry=is_dry,
        weighed_on=piece.weighed_on,
    )


def solver_job(job, habits):
    return solver.Job(
        key=job.reference,
        pieces=tuple(
            solver_piece(piece, str(place), habits, piece.is_dry or not job.is_on_the_bench)
            for place, piece in enumerate(job.pieces)
            if piece.is_dated
        ),
        promised_on=job.promised_on,
        is_whole=bool(job.needs),
        is_ready=job.is_ready,
    )


def steps_of(planned_job, piece=""):
    steps = planned_job.steps if planned_job else ()
    return tuple(Planned(each.kind, each.on) for each in steps if each.piece == piece)


def with_plan(jobs, habits, on=TODAY):
    """The jobs with the steps that the planner gives them on a day."""
    bench = solver.Bench((480,) * 7, mould_days=habits.mould_days)
    dated = [job for job in jobs if any(piece.is_dated for piece in job.pieces)]
    made = plan_quickly([solver_job(job, habits) for job in dated], bench, on)
    found = []
    for job in jobs:
        its = made.job_plan(job.reference)
        pieces = tuple(
            replace(piece, planned=steps_of(its, str(place)))
            for place, piece in enumerate(job.pieces)
        )
        found.append(replace(job, pieces=pieces, planned=steps_of(its)))
    return found


days_ago = st.integers(0, 5).map(lambda number: TODAY - number * DAY)


@given(jobs(), habits, days_ago)
def test_each_task_is_planned_once_and_stands_on_one_day(the_jobs, the_habits, made_on):
    the_jobs = with_plan(the_jobs, the_habits, made_on)
    tasks = plan(the_jobs, the_habits, TODAY)
    named = Counter(
        (task.kind, task.job.reference, task.piece and task.piece.limb, task.planned_on)
        for task in tasks
    )
    assert not [name for name, count in named.items() if count > 1]
    last = max((task.planned_on for task in tasks), default=TODAY)
    ahead = [TODAY + n * DAY for n in range((last - TODAY).days + 1)]
    on_sheets = [t for day in week(ahead, the_jobs, the_habits, TODAY) for t in day.tasks]
    assert Counter(on_sheets) == Counter(tasks)


@given(jobs(), habits, days_ago)
def test_no_task_stands_before_it_is_possible_nor_on_a_day_gone_by(the_jobs, the_habits, made_on):
    for task in plan(with_plan(the_jobs, the_habits, made_on), the_habits, TODAY):
        assert task.planned_on >= TODAY
        if task.kind == "pour":
            assert task.planned_on >= task.piece.taken_at.date()
        if task.kind == "demould" and task.piece.poured_at:
            hours = timedelta(hours=the_habits.demould_hours)
            assert task.planned_on >= (task.piece.poured_at + hours).date()


@given(jobs(), habits, days_ago)
def test_what_is_late_says_why_and_what_is_not_does_not(the_jobs, the_habits, made_on):
    for task in plan(with_plan(the_jobs, the_habits, made_on), the_habits, TODAY):
        assert bool(task.late_why) == task.is_late == (task.planned_on > task.due_on)
        if task.due_on < TODAY and task.kind in ("demould", "weigh"):
            assert task.planned_on == TODAY, "overdue work is carried to today"


@given(jobs(), habits)
def test_a_piece_goes_its_way_in_order_and_the_frame_comes_last(the_jobs, the_habits):
    for the_job in with_plan(the_jobs, the_habits):
        tasks = plan([the_job], the_habits, TODAY)
        on = {kind: [t for t in tasks if t.kind == kind] for kind in ("frame", "hand_over")}
        for piece in the_job.pieces:
            mine = [task for task in tasks if task.piece == piece]
            assert [task.planned_on for task in mine] == sorted(task.planned_on for task in mine)
            order = ["pour", "demould", "weigh"]
            kinds = [order.index(task.kind) for task in mine]
            assert kinds == sorted(kinds)
            if on["frame"] and mine:
                assert on["frame"][0].planned_on >= mine[-1].planned_on
        if on["frame"] and on["hand_over"]:
            assert on["hand_over"][0].planned_on >= on["frame"][0].planned_on


@given(jobs(), habits)
def test_the_plan_covers_what_it_was_made_for_and_nothing_without_one(the_jobs, the_habits):
    for unplanned, the_job in zip(the_jobs, with_plan(the_jobs, the_habits), strict=True):
        needs = {kind for piece in the_job.pieces for kind in piece.needs} | {*the_job.needs}
        assert is_covered(the_job, the_habits, TODAY) or not the_job.planned
        assert is_covered(unplanned, the_habits, TODAY) == (not needs)


def test_a_plan_that_the_facts_have_overtaken_covers_the_job_no_more():
    booked = job(on_the_way(taken_at=at(2)), planned=LAST)
    assert is_covered(booked, Habits(), TODAY)
    assert not is_covered(booked, Habits(demould_hours=30), TODAY)
    (piece,) = booked.pieces
    for change in (
        {"taken_at": at(7)},  # the sitting was put off
        {"taken_at": at(2), "planned": piece.planned[1:]},  # it has to be poured once more
        {"poured_at": at(2), "demoulded_on": TODAY, "weighed_on": TODAY + 7 * DAY},  # still damp
    ):
        changed = replace(booked, pieces=(replace(piece, **change),))
        assert not is_covered(changed, Habits(), TODAY), change
    late = replace(booked, pieces=(replace(piece, taken_at=at(1, 8)),))
    assert is_covered(late, Habits(), TODAY + DAY)  # too late already: another plan helps no more
    sooner = replace(late, pieces=(replace(late.pieces[0], taken_at=at(1, 7)),))
    assert not is_covered(sooner, Habits(clay_rest_hours=6), TODAY - DAY)


def test_what_was_not_done_on_its_day_is_told_so():
    framed = replace(
        job(hand(is_dry=True, poured_at=at(1), dry_on=date(2026, 11, 27))),
        planned=(step("frame", 1),),
    )
    found = next(t for t in plan([framed], Habits(), date(2026, 12, 2)) if t.kind == "frame")
    assert (found.planned_on, found.note) == (date(2026, 12, 2), "not done on Tue 1 Dec")


def test_what_the_plan_moved_carries_its_reason():
    moved = step("frame", 4, note="moved from Wed 2 Dec: Thu 3 Dec is full of framing")
    framed = job(hand(is_dry=True, poured_at=at(1)), planned=(moved,))
    (found,) = plan([framed], Habits(), TODAY)
    assert (found.planned_on, found.note) == (date(2026, 12, 4), moved.note)


def test_it_is_handed_over_on_the_promised_day_unless_pinned_sooner():
    day = date(2026, 12, 10)
    for pinned, on in ((False, day), (True, date(2026, 12, 5))):
        ready = replace(
            job(hand(), promised_on=day, is_ready=True),
            planned=(step("hand_over", 5, pinned=pinned),),
        )
        (found,) = plan([ready], Habits(), date(2026, 12, 2))
        assert found.planned_on == on


def test_the_expected_weight_falls_from_the_last_to_half_a_percent_above_dry():
    piece = hand(
        demoulded_on=date(2026, 12, 1),
        weighed_on=date(2026, 12, 2),
        last_g=400.0,
        dry_g=300.0,
        dry_on=date(2026, 12, 8),
    )
    days = [piece.expected_g(date(2026, 12, day)) for day in range(2, 12)]
    assert days[0] == 400
    assert days[6] == pytest.approx(301.5)
    assert days == sorted(days, reverse=True)
    assert hand().expected_g(date(2026, 12, 2)) is None


def test_pours_are_split_by_what_a_bucket_holds():
    # 269.1 g of plaster and 188.3 g of water fill 0.288 l at c = 70 (TRADE figures, [src]).
    prints = [
        on_the_way(taken_at=at(2), is_taken=True, plaster_g=269.1, water_g=188.3)
        for _limb in range(3)
    ]
    assert prints[0].slurry_ml == pytest.approx(288, abs=0.1)
    day = week([TODAY], [job(*prints)], Habits(), TODAY)
    (pours,) = day
    assert [len(b.tasks) for b in pours.buckets(600, 6)] == [2, 1]
    assert [len(b.tasks) for b in pours.buckets(2000, 2)] == [2, 1]
    assert [len(b.tasks) for b in pours.buckets(100, 6)] == [1, 1, 1]
    assert sum(b.plaster_g for b in pours.buckets(600, 6)) == pytest.approx(3 * 269.1)
