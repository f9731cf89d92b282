"""The stored plan is kept complete by each commit: what changed is planned again, all else keeps its day."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone

from production.bench import framing as bench_framing
from production.bench.panels import at_the_bench
from production.planning import plan_runs
from production.schedule.models import PlanRun
from studio.roles import Role
from studio.stages import Stage
from tests import makers
from tests.production.conftest import casts_of, press
from tests.working import planned

pytestmark = pytest.mark.django_db


@pytest.fixture
def rack(unit):
    return makers.job_at(Stage.DRYING, unit)


def run_of(unit):
    return unit.plan_runs.get()


def steps(job):
    return list(
        run_of(job.unit)
        .steps.filter(job=job)
        .order_by("pk")
        .values_list("pk", "kind", "piece", "on")
    )


def todays(unit):
    return [item.title for item in at_the_bench(unit, Role.OWNER, timezone.now())]


def test_the_first_commit_makes_a_plan_that_nobody_asked_for(
    unit, rack, django_capture_on_commit_callbacks
):
    assert not PlanRun.objects.exists()
    with django_capture_on_commit_callbacks(execute=True):
        booked = makers.a_job(unit)
    assert PlanRun.objects.get().how == PlanRun.How.QUICK
    assert {kind for _, kind, *_ in steps(booked)} >= {"pour", "demould", "weigh", "frame"}
    assert steps(rack)


def test_a_new_job_is_fitted_in_and_no_other_row_is_touched(unit, rack):
    planned(unit)
    before, run = steps(rack), PlanRun.objects.get()
    booked = makers.a_job(unit)
    planned(unit)
    assert PlanRun.objects.get() == run
    assert steps(rack) == before
    assert {kind for _, kind, *_ in steps(booked)} >= {"pour", "demould", "weigh", "frame"}


def test_a_solved_plan_stays_until_the_worker_makes_another(unit, owner, rack):
    planned(unit)
    PlanRun.objects.update(how=PlanRun.How.SOLVED, state="as of then")
    other = makers.job_at(Stage.CLAY_REST, unit)
    planned(unit)
    run = PlanRun.objects.get()
    assert (run.how, run.state) == (PlanRun.How.SOLVED, "as of then")
    assert run.steps.filter(job=other, kind="pour").count() == 2
    assert plan_runs.state_to_plan(unit, timezone.now())  # so the worker takes it up


def test_an_event_that_leaves_every_step_possible_moves_none(unit, owner, rack):
    planned(unit)
    before = steps(rack)
    press(owner, "place_on_rack", casts_of(rack)[0].pk, place=9)
    assert run_of(unit).last_event < rack.events.last().pk
    planned(unit)
    assert steps(rack) == before


def test_what_is_weighed_and_still_damp_when_its_weighings_are_over_gets_others(unit, owner, rack):
    planned(unit)
    weighed = casts_of(rack)[0]
    press(owner, "weigh", weighed.pk, mass_g="400")
    planned(unit)
    days = [
        on for _, kind, piece, on in steps(rack) if (kind, piece) == ("weigh", weighed.piece_id)
    ]
    assert min(days) > timezone.localdate()
    frame = next(on for _, kind, _, on in steps(rack) if kind == "frame")
    assert frame >= max(days)


def test_a_piece_to_be_poured_once_more_is_planned_at_once(unit, owner, rack):
    planned(unit)
    assert todays(unit) == ["Weigh Ada: left hand, right hand"]
    spoiled = casts_of(rack)[0]
    press(owner, "spoil_piece", spoiled.pk, how="break", why="fell", print_whole="yes")
    planned(unit)
    kinds = {kind for _, kind, piece, _ in steps(rack) if piece == spoiled.piece_id}
    assert kinds == {"pour", "demould", "weigh"}
    assert sorted(todays(unit)) == ["Pour Ada: left hand", "Weigh Ada: right hand"]


def test_what_is_demoulded_is_to_be_weighed_right_after_the_tap(
    unit, owner, django_capture_on_commit_callbacks
):
    job = makers.job_at(Stage.CASTING, unit)
    planned(unit)
    for cast in casts_of(job):
        with django_capture_on_commit_callbacks(execute=True):
            press(owner, "demould", cast.pk)
    assert todays(unit) == ["Weigh Ada: left hand, right hand"]
    assert owner.get(reverse("production:bench")).content.decode().count("weigh today") == 2


def test_the_pieces_of_a_job_that_lacks_a_sitting_are_planned_and_its_frame_is_not(unit):
    job = makers.job_at(Stage.CLAY_REST, unit)
    _, waiting = job.pieces.all()
    waiting.prints.all().delete()
    planned(unit)
    assert {kind for _, kind, *_ in steps(job)} == {"pour", "demould", "weigh"}
    assert todays(unit) == ["Pour Ada: left hand"]


def test_nothing_new_costs_two_queries(unit, rack, django_assert_num_queries):
    planned(unit)
    with django_assert_num_queries(2):
        plan_runs.keep_planned(unit, timezone.now() + timedelta(days=1))


def test_a_sealed_frame_is_still_to_be_checked_and_is_planned_only_once(unit):
    framing = makers.job_at(Stage.FRAMING, unit)
    by, now = makers.owner_of(unit), timezone.now()
    for step in ("mounted", "closed", "backed", "sealed"):
        bench_framing.tick_frame(framing, step=step, done=True, by=by, at=now, key=uuid4())
    planned(unit)
    before = steps(framing)
    assert [kind for _, kind, *_ in before] == ["ready", "hand_over"]
    cured = at_the_bench(unit, Role.OWNER, now + timedelta(days=7))
    assert [item.title for item in cured] == ["Frame Ada"]
    bench_framing.tick_frame(framing, step="checked", done=True, by=by, at=now, key=uuid4())
    bench_framing.tick_frame(framing, step="checked", done=False, by=by, at=now, key=uuid4())
    planned(unit)
    assert steps(framing) == before
