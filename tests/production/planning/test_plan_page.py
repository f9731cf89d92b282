"""The plan of the bench: read from the books, kept as rows, shown, pinned, made again when something changed."""

import uuid
from datetime import UTC, datetime, time, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from production.planning import actions as planning_actions
from production.planning import inputs, plan_runs
from production.planning import page as planning_page
from production.schedule.models import ByCourier, PlanPin, PlanRun, PlanStep
from production.working_week import actions
from studio.stages import ActionRefused, MoveRefused, Stage
from studio.work import queue
from tests import makers
from tests.parts.markup import folded
from tests.working import work_off

pytestmark = pytest.mark.django_db
PLAN, ANEW = reverse("production:plan"), reverse("production:plan_anew")
STAGES = (Stage.BOOKED, Stage.CLAY_REST, Stage.CASTING, Stage.DRYING, Stage.FRAMING, Stage.READY)


def facts(by):
    return {"by": by, "at": timezone.now(), "key": uuid.uuid4()}


@pytest.fixture
def jobs(unit):
    return {stage: makers.job_at(stage, unit) for stage in STAGES}


@pytest.fixture
def today():
    return timezone.localdate()


def quick(unit):
    return plan_runs.make_plan(unit, timezone.now(), how=PlanRun.How.QUICK)


def days(run, job, kind):
    return list(run.steps.filter(job=job, kind=kind).values_list("on", flat=True))


def a_working_day(today, ahead=3):
    on = today + timedelta(days=ahead)
    while on.weekday() > 4:
        on += timedelta(days=1)
    return on


def test_each_job_is_planned_from_where_it_stands(unit, jobs):
    run = quick(unit)
    kinds = {
        stage: list(dict.fromkeys(run.steps.filter(job=job).values_list("kind", flat=True)))
        for stage, job in jobs.items()
    }
    on_its_way = ["frame", "hand_over", "ready", "weigh"]
    assert sorted(kinds[Stage.BOOKED]) == sorted(["pour", "demould", *on_its_way])
    assert sorted(kinds[Stage.CLAY_REST]) == sorted(["pour", "demould", *on_its_way])
    assert sorted(kinds[Stage.CASTING]) == sorted(["demould", *on_its_way])
    assert sorted(kinds[Stage.DRYING]) == on_its_way
    assert sorted(kinds[Stage.FRAMING]) == ["frame", "hand_over", "ready"]
    assert kinds[Stage.READY] == ["hand_over"]
    poured = run.steps.filter(job=jobs[Stage.CLAY_REST], kind="pour")
    assert {step.piece for step in poured} == set(jobs[Stage.CLAY_REST].pieces.all())
    assert run.least_late_days <= run.late_days


def test_nothing_stands_on_a_day_off(unit, owner, jobs, today):
    before = quick(unit)
    framed = days(before, jobs[Stage.DRYING], "frame")[0]
    actions.add_other_days(
        unit, first_on=framed, last_on=framed + timedelta(days=6), **facts(owner.user)
    )
    after = quick(unit)
    assert days(after, jobs[Stage.DRYING], "frame")[0] > framed + timedelta(days=6)
    moved = after.steps.get(job=jobs[Stage.DRYING], kind="frame")
    assert moved.moved_from == framed
    assert moved.moved_why
    # A plan made once more, with nothing changed, still says why.
    again = quick(unit).steps.get(job=jobs[Stage.DRYING], kind="frame")
    assert (again.on, again.moved_from, again.moved_why) == (moved.on, framed, moved.moved_why)


def test_what_was_not_done_moves_on_with_a_reason(unit, today):
    job = makers.job_at(Stage.CLAY_REST, unit)
    yesterday = today - timedelta(days=1)
    run = quick(unit)
    run.steps.filter(kind="pour").update(on=yesterday)
    step = quick(unit).steps.filter(job=job, kind="pour").first()
    assert step.on >= today
    assert step.moved_from == yesterday
    assert "not done" in step.moved_why


def test_a_job_without_a_sitting_is_named_and_not_planned(unit, owner):
    job = makers.a_job(unit)
    from bookings.diary.actions import cancel_sitting  # noqa: PLC0415

    cancel_sitting(job.sittings.get(), why="A cold.", seen_version=1, **facts(owner.user))
    found = inputs.books(unit, timezone.now())
    assert (found.jobs, [each.job for each in found.undated]) == ((), [job])
    assert "A sitting is wanted first" in folded(owner.get(PLAN).content.decode())


def test_the_empty_page_says_what_will_come(owner):
    page = folded(owner.get(PLAN).content.decode())
    assert "Nothing to plan" in page
    assert "Work out the best plan" not in page


def test_the_page_shows_the_kept_plan_until_something_changes(unit, owner, jobs):
    assert planning_page.plan_page(unit, timezone.now()).is_fresh  # nothing is kept yet
    assert not PlanRun.objects.exists()  # and looking keeps nothing
    quick(unit)
    found = planning_page.plan_page(unit, timezone.now())
    assert not found.is_fresh
    assert sorted(line.reference for line in found.jobs) == sorted(
        job.reference for job in jobs.values()
    )
    page = folded(owner.get(PLAN).content.decode())
    assert "Made at once" in page
    makers.job_at(Stage.CLAY_REST, unit)
    fresh = planning_page.plan_page(unit, timezone.now())
    assert fresh.is_fresh
    assert len(fresh.jobs) == len(jobs) + 1
    assert "way home" in folded(owner.get(PLAN, {"by": "job"}).content.decode())


def test_a_late_job_stands_first_with_the_way_to_tell_the_family(unit, owner, today):
    job = makers.job_at(Stage.CLAY_REST, unit)
    job.promised_on = today
    job.save()
    page = folded(owner.get(PLAN).content.decode())
    assert "What must move" in page
    assert reverse("studio:promise", args=[job.reference]) in page


def test_a_pin_is_kept_and_let_go(unit, owner, jobs, today):
    job, on = jobs[Stage.DRYING], a_working_day(today, 40)
    pin = reverse("production:pin_step", args=[job.reference])
    sent = {"kind": "frame", "piece": "", "on": on, "key": uuid.uuid4()}
    assert owner.get(f"{pin}?kind=frame&on={on:%Y-%m-%d}").status_code == 200
    piece = job.pieces.first()
    asked = folded(
        owner.get(f"{pin}?kind=frame&piece={piece.pk}&on={on:%Y-%m-%d}").content.decode()
    )
    assert f"Frame {piece}: on which day?" in asked
    assert f"Frame {job.first_names}: on which day?" in folded(
        owner.post(pin, {"kind": "frame", "on": "never"}).content.decode()
    )
    for _ in range(2):
        assert owner.post(pin, sent).status_code == 302
    assert PlanPin.objects.count() == job.events.filter(what="pin_step").count() == 1
    run = quick(unit)
    assert days(run, job, "frame") == [on]
    assert run.steps.get(job=job, kind="frame").pinned
    assert "Let it go" in folded(owner.get(PLAN).content.decode())
    unpin = reverse("production:unpin_step", args=[job.reference])
    sent = {"kind": "frame", "piece": "", "key": uuid.uuid4()}
    for _ in range(2):
        assert owner.post(unpin, sent).status_code == 302
    assert job.events.filter(what="unpin_step").count() == 1
    assert f"{job.first_names}: let go." in folded(owner.get(PLAN).content.decode())
    assert not quick(unit).steps.get(job=job, kind="frame").pinned
    assert (owner.get(unpin).status_code, owner.post(unpin, {}).status_code) == (405, 409)


def test_one_piece_is_pinned_apart_from_its_brother(unit, owner, jobs, today):
    job, on = jobs[Stage.CLAY_REST], a_working_day(today, 1)
    first, _second = job.pieces.all()
    for _ in range(2):  # moved again: one pin stands
        planning_actions.pin_step(job, kind="pour", piece=first, on=on, **facts(owner.user))
    assert PlanPin.objects.filter(taken_out_at=None).count() == 1
    run = quick(unit)
    assert run.steps.get(job=job, kind="pour", piece=first).on == on
    assert run.steps.filter(job=job, kind="pour", pinned=True).count() == 1


def test_a_pin_that_cannot_be_is_refused_and_changes_nothing(unit, owner, jobs, today):
    job, other = jobs[Stage.DRYING], jobs[Stage.CASTING]
    by = owner.user
    with pytest.raises(ActionRefused, match="over"):
        planning_actions.pin_step(
            job, kind="frame", piece=None, on=today - timedelta(days=1), **facts(by)
        )
    with pytest.raises(ActionRefused, match="check the year"):
        planning_actions.pin_step(
            job, kind="frame", piece=None, on=today + timedelta(731), **facts(by)
        )
    with pytest.raises(ActionRefused, match="not part"):
        planning_actions.pin_step(
            job, kind="pour", piece=other.pieces.first(), on=today, **facts(by)
        )
    with pytest.raises(ActionRefused, match="not part"):
        planning_actions.pin_step(job, kind="weigh", piece=None, on=today, **facts(by))
    gone = makers.job_at(Stage.HANDED_OVER, unit)
    with pytest.raises(MoveRefused):
        planning_actions.pin_step(gone, kind="frame", piece=None, on=today, **facts(by))
    assert not PlanPin.objects.exists()


def test_by_courier_goes_on_the_couriers_days_only(unit, owner, jobs, today):
    job = jobs[Stage.READY]
    unit.working_week = actions.edit_working_week(
        unit,
        facts={
            field.name: getattr(inputs.WorkingWeek(), field.name)
            for field in inputs.WorkingWeek._meta.fields
            if field.name not in ("id", "unit", "version")
        }
        | {"courier_days": "thursday"},
        seen_version=1,
    )
    url = reverse("production:send_by_courier", args=[job.reference])
    by_job = reverse("production:plan", query={"by": "job"})
    assert "They collect it" not in folded(owner.get(by_job).content.decode())
    pressed = owner.post(url, {"courier": "yes", "key": uuid.uuid4()}, follow=True)
    assert pressed.redirect_chain == [(by_job, 302)]
    assert "Goes home by courier" in folded(pressed.content.decode())
    assert f"{job.first_names} goes home by courier." in folded(pressed.content.decode())
    assert "They collect it" in folded(pressed.content.decode())
    assert days(quick(unit), job, "hand_over")[0].weekday() == 3
    assert owner.post(url, {"courier": "no", "key": uuid.uuid4()}).status_code == 302
    assert not ByCourier.objects.exists()
    assert job.events.filter(what="send_by_courier").count() == 2


def test_the_worker_plans_what_changed_and_only_then(unit, jobs):
    assert queue.run_periodic(timezone.now()) == 1
    assert queue.run_periodic(timezone.now()) == 0  # it waits already
    assert work_off() == 1
    assert PlanRun.objects.get().how == PlanRun.How.SOLVED
    assert queue.run_periodic(timezone.now()) == 0  # nothing changed
    makers.job_at(Stage.CASTING, unit)
    assert queue.run_periodic(timezone.now()) == 1
    assert work_off() == 1
    assert PlanRun.objects.count() == 2


def test_a_new_day_is_planned_when_it_begins_where_the_unit_is(unit, jobs, today):
    unit.time_zone = "America/New_York"
    unit.save()
    evening = datetime.combine(today + timedelta(days=1), time(2), UTC)
    with timezone.override(unit.time_zone):
        plan_runs.make_plan(unit, evening, how=PlanRun.How.SOLVED)
    assert queue.run_periodic(evening) == 0  # the worker's own day is a new one
    assert queue.run_periodic(evening + timedelta(hours=4)) == 1


def test_only_the_last_plans_are_kept(unit, jobs):
    for _ in range(plan_runs.RUNS_KEPT + 2):
        quick(unit)
    assert PlanRun.objects.count() == plan_runs.RUNS_KEPT
    assert set(PlanStep.objects.values_list("run", flat=True)) <= set(
        PlanRun.objects.values_list("pk", flat=True)
    )


def test_the_owner_asks_for_the_best_plan_and_sees_its_progress(unit, owner, jobs):
    key = {"key": str(uuid.uuid4())}
    where = {owner.post(ANEW, key)["Location"] for _ in range(2)}
    assert len(where) == work_off() == 1
    assert "Planned:" in folded(owner.get(where.pop()).content.decode())
    assert owner.get(ANEW).status_code == 405


def test_a_second_press_while_a_plan_is_worked_out_begins_no_other_and_says_so(unit, owner, jobs):
    pressed = [
        folded(owner.post(ANEW, {"key": str(uuid.uuid4())}, follow=True).content.decode())
        for _ in range(2)
    ]
    assert ["worked out already" in page for page in pressed] == [False, True]
    assert "A better plan is being worked out" in folded(owner.get(PLAN).content.decode())
    assert unit.works.count() == work_off() == 1
    owner.post(ANEW, {"key": str(uuid.uuid4())})  # it is done: this one is another
    assert unit.works.count() == 2


def test_couriers_are_asked_for_only_where_they_are_shown(
    unit, jobs, django_assert_max_num_queries
):
    quick(unit)
    couriers = ByCourier._meta.db_table
    for by_job in (False, True):
        with django_assert_max_num_queries(100) as asked:
            planning_page.plan_page(unit, timezone.now(), by_job=by_job)
        assert any(couriers in query["sql"] for query in asked.captured_queries) == by_job


def test_the_gap_is_told_with_the_plan(unit, owner, jobs):
    run = quick(unit)
    for late_days, least, words in (
        (0, 0, "No promise is missed."),
        (4, 4, "No plan could be less late: this is proven."),
        (4, 1, "Another plan could save 3 late days at the most."),
    ):
        PlanRun.objects.filter(pk=run.pk).update(late_days=late_days, least_late_days=least)
        assert words in folded(owner.get(PLAN).content.decode())


def test_a_helper_looks_and_changes_nothing(unit, owner, helper, stranger, jobs, today):
    job = jobs[Stage.DRYING]
    assert "Move" not in folded(helper.get(PLAN).content.decode())
    sent = {"kind": "frame", "piece": "", "on": today, "courier": "yes", "key": uuid.uuid4()}
    for name in ("pin_step", "unpin_step", "send_by_courier"):
        url = reverse(f"production:{name}", args=[job.reference])
        assert helper.post(url, sent).status_code == 403
        assert stranger.post(url, sent).status_code == 404
    assert helper.post(ANEW, sent).status_code == 403
    assert not PlanPin.objects.exists()
