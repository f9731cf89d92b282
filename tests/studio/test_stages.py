"""The spine: which stage may follow which, gates, keys, and two people at once."""

import uuid
from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from studio import stages
from studio.jobs.actions import open_job
from studio.jobs.models import Job, JobEvent
from studio.limbs import Limb
from studio.stages import CLOSED, MOVES, MovedMeanwhile, MoveRefused, Stage, move
from tests import makers
from tests.crowd import everybody

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


@pytest.fixture
def no_gates(monkeypatch):
    """Only the table of moves and the gates that a test registers itself."""
    monkeypatch.setattr(stages, "_gates", type(stages._gates)(list))


@pytest.fixture
def job(unit):
    return opened(unit)


def opened(unit):
    family = makers.a_family(unit)
    return open_job(
        family,
        wanted=[(family.children.get(), Limb.LEFT_HAND)],
        promised_on=None,
        by=makers.owner_of(unit),
        at=NOON,
        key=uuid.uuid4(),
    )


def put(job, stage):
    """Set the stage behind the back of `move`, for a test that starts there."""
    Job.objects.filter(pk=job.pk).update(stage=stage)
    job.refresh_from_db()


@pytest.mark.parametrize("to", Stage)
@pytest.mark.parametrize("start", Stage)
def test_every_pair_of_stages_moves_with_one_event_or_changes_nothing(job, no_gates, start, to):
    put(job, start)
    before = job.events.count()
    by = makers.owner_of(job.unit)
    if to in MOVES[start]:
        event = move(job, seen=start, to=to, by=by, at=NOON, key=uuid.uuid4(), why="Because.")
        assert (event.from_stage, event.to_stage, event.by, event.why) == (
            start,
            to,
            by,
            "Because.",
        )
        assert job.events.count() == before + 1
    else:
        with pytest.raises(MoveRefused, match="cannot be followed"):
            move(job, seen=start, to=to, by=by, at=NOON, key=uuid.uuid4())
        assert job.events.count() == before
    job.refresh_from_db()
    assert job.stage == (to if to in MOVES[start] else start)


def test_nothing_leaves_a_closed_stage():
    assert all(not MOVES[stage] for stage in CLOSED)
    assert all(MOVES[stage] for stage in Stage if stage not in CLOSED)


def test_every_open_stage_can_be_called_off():
    assert all(Stage.CALLED_OFF in MOVES[stage] for stage in stages.OPEN)


def test_a_gate_refuses_with_all_its_sentences_and_nothing_changes(job, no_gates):
    stages.gate(Stage.BOOKED, Stage.CLAY_REST)(lambda _job: "No print yet.")
    stages.gate(Stage.BOOKED, Stage.CLAY_REST)(lambda _job: None)
    stages.gate(Stage.BOOKED, Stage.CLAY_REST)(lambda _job: "The clay is hard.")
    with pytest.raises(MoveRefused) as refused:
        move(job, seen=Stage.BOOKED, to=Stage.CLAY_REST, by=None, at=NOON, key=uuid.uuid4())
    assert refused.value.reasons == ("No print yet.", "The clay is hard.")
    job.refresh_from_db()
    assert job.stage == Stage.BOOKED
    assert job.events.moves().count() == 0


def test_the_same_key_twice_is_one_move_and_the_same_event(job, no_gates):
    key = uuid.uuid4()
    once = move(job, seen=Stage.BOOKED, to=Stage.CLAY_REST, by=None, at=NOON, key=key)
    again = move(job, seen=Stage.BOOKED, to=Stage.CLAY_REST, by=None, at=NOON, key=key)
    assert once == again
    assert job.events.moves().count() == 1


def test_the_job_at_hand_follows_the_move_also_where_it_is_repeated(job, no_gates):
    stale, key = Job.objects.get(pk=job.pk), uuid.uuid4()
    for each in (job, stale):
        move(each, seen=Stage.BOOKED, to=Stage.CLAY_REST, by=None, at=NOON, key=key)
        assert (each.stage, each.stage_since) == (Stage.CLAY_REST, NOON)
    job.refresh_from_db()
    assert (job.stage, job.stage_since) == (Stage.CLAY_REST, NOON)


def test_a_gate_registered_twice_is_asked_once_and_only_on_its_way(job, no_gates):
    def closed(_job):
        return "The clay is hard."

    for _ in range(2):
        assert stages.gate(Stage.BOOKED, Stage.CLAY_REST)(closed) is closed
    assert stages.missing(job, Stage.CLAY_REST) == ["The clay is hard."]
    assert stages.missing(job, Stage.CALLED_OFF) == []


def test_a_refusal_reads_as_its_sentences():
    assert str(MoveRefused("No print yet.", "The clay is hard.")) == (
        "No print yet. The clay is hard."
    )


def test_the_second_person_is_told_what_the_first_did(job, no_gates):
    move(job, seen=Stage.BOOKED, to=Stage.CLAY_REST, by=None, at=NOON, key=uuid.uuid4())
    with pytest.raises(MovedMeanwhile, match="already at “In the clay”"):
        move(job, seen=Stage.BOOKED, to=Stage.CLAY_REST, by=None, at=NOON, key=uuid.uuid4())
    assert job.events.moves().count() == 1


def test_history_is_only_added_to(job):
    event = job.events.first()
    with pytest.raises(TypeError, match="only ever added"):
        event.save()
    with pytest.raises(TypeError, match="only ever added"):
        event.delete()


STEPS = st.lists(
    st.tuples(
        st.sampled_from(list(Stage)),  # what the person saw
        st.sampled_from(list(Stage)),  # where to
        st.integers(0, 5),  # a small pool of keys, so that some repeat
        st.booleans(),  # whether the gates are open
    ),
    max_size=25,
)


@given(steps=STEPS)
@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_no_sequence_of_calls_passes_a_closed_gate_and_the_events_replay(unit, no_gates, steps):
    gates_open = True
    for start, following in MOVES.items():
        for to in following:
            stages._gates[start, to] = [lambda _job: None if gates_open else "Not yet."]
    job = opened(unit)
    pool = [uuid.uuid4() for _ in range(6)]
    for minute, (seen, to, key, is_open) in enumerate(steps):
        gates_open = is_open
        before = (job.stage, job.events.count())
        known = job.events.filter(key=pool[key]).exists()
        try:
            move(
                job,
                seen=seen,
                to=to,
                by=None,
                at=NOON + timedelta(minutes=minute),
                key=pool[key],
            )
        except (MoveRefused, MovedMeanwhile):
            job.refresh_from_db()
            assert (job.stage, job.events.count()) == before
            continue
        job.refresh_from_db()
        if known:
            assert (job.stage, job.events.count()) == before
        else:
            assert is_open
            assert before[0] == seen
            assert to in MOVES[seen]
            assert (job.stage, job.events.count()) == (to, before[1] + 1)
    replayed = Stage.BOOKED
    for event in job.events.moves().oldest_first():
        assert event.from_stage == replayed
        replayed = event.to_stage
    assert replayed == job.stage


@pytest.mark.django_db(transaction=True)
def test_many_people_moving_one_job_at_once_make_one_move(no_gates):
    job = opened(makers.a_unit())

    def press(_number):
        move(
            Job.objects.get(pk=job.pk),
            seen=Stage.BOOKED,
            to=Stage.CLAY_REST,
            by=None,
            at=NOON,
            key=uuid.uuid4(),
        )

    came = sorted(type(each).__name__ for each in everybody(6, press))
    assert came == ["MovedMeanwhile"] * 5 + ["NoneType"]
    assert JobEvent.objects.filter(job=job).moves().count() == 1


@pytest.mark.skipif(connection.vendor != "sqlite", reason="about the embedded database")
def test_the_embedded_database_runs_as_measured(db):
    with connection.cursor() as cursor:
        found = [
            cursor.execute(f"PRAGMA {name}").fetchone()[0]
            for name in ("journal_mode", "synchronous")
        ]
    assert found == ["wal", 2]
    assert connection.transaction_mode == "IMMEDIATE"
