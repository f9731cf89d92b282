"""Two people at one bench: one rack place, one piece, one frame. Run on both databases."""

import uuid

import pytest
from django.utils import timezone

from production.bench import actions, framing, weighing
from production.casts.models import Cast, Pour, Weighing
from studio.stages import MovedMeanwhile, MoveRefused, Stage
from tests import makers
from tests.crowd import everybody

PEOPLE = 6


def facts(by):
    return {"by": by, "at": timezone.now(), "key": uuid.uuid4()}


@pytest.fixture
def unit(transactional_db):
    return makers.a_unit(rack_places=PEOPLE)


@pytest.fixture
def by(unit):
    return makers.owner_of(unit)


def test_pieces_of_six_jobs_demoulded_at_once_lie_at_six_places(unit, by):
    jobs = [makers.job_at(Stage.CASTING, unit, pieces=1) for _ in range(PEOPLE)]
    casts = [Cast.objects.get(piece__job=job) for job in jobs]
    came = everybody(PEOPLE, lambda n: actions.demould(casts[n], **facts(by)).rack_place)
    assert sorted(came, key=str) == list(range(1, PEOPLE + 1))


def test_of_six_who_demould_one_piece_one_does_and_the_others_are_told(unit, by):
    job = makers.job_at(Stage.CASTING, unit, pieces=1)
    cast = Cast.objects.get(piece__job=job)
    came = everybody(PEOPLE, lambda _: actions.demould(cast, **facts(by)))
    assert sorted(type(each).__name__ for each in came) == ["Cast"] + ["MoveRefused"] * 5
    assert job.events.filter(what="demould").count() == 1


def test_of_six_who_pour_one_piece_one_does_and_the_others_are_told(unit, by):
    job = makers.job_at(Stage.CLAY_REST, unit)
    pieces = list(job.pieces.all())

    def pour(_number):
        return actions.pour(
            unit, pieces=pieces, plaster_g=400, water_g=280, consistency=70, **facts(by)
        )

    came = everybody(PEOPLE, pour)
    assert sorted(type(each).__name__ for each in came) == ["MoveRefused"] * 5 + ["Pour"]
    assert (Pour.objects.count(), Cast.objects.count()) == (1, 2)


def test_pours_that_share_jobs_never_wait_for_each_other(unit, by):
    """Each takes one piece of both jobs, every second person in the other order."""
    first, second = (makers.job_at(Stage.CLAY_REST, unit) for _ in range(2))
    pairs = list(zip(first.pieces.all(), second.pieces.all(), strict=True))

    def pour(number):
        pieces = pairs[number % 2][:: 1 if number % 2 else -1]
        return actions.pour(
            unit, pieces=pieces, plaster_g=400, water_g=280, consistency=70, **facts(by)
        )

    came = everybody(PEOPLE, pour)
    assert not [e for e in came if isinstance(e, Exception) and not isinstance(e, MoveRefused)]
    assert Cast.objects.count() == 4
    for job in (first, second):
        job.refresh_from_db()
        assert job.stage == Stage.CASTING


def test_one_weight_sent_six_times_by_its_key_is_one(unit, by):
    job = makers.job_at(Stage.DRYING, unit, pieces=1)
    cast, key, at = Cast.objects.get(piece__job=job), uuid.uuid4(), timezone.now()
    came = everybody(PEOPLE, lambda _: weighing.weigh(cast, mass_g=400, by=by, at=at, key=key).pk)
    assert len(set(came)) == 1
    assert Weighing.objects.count() == job.events.filter(what="weigh").count() == 1


def test_of_six_who_start_one_frame_one_does_and_the_others_see_both_stages(unit, by):
    job = makers.job_at(Stage.DRYING, unit, pieces=1)
    weighing.release_dry(Cast.objects.get(piece__job=job), why="rings", **facts(by))
    came = everybody(PEOPLE, lambda _: framing.start_framing(job, seen=Stage.DRYING, **facts(by)))
    told = [each for each in came if isinstance(each, MovedMeanwhile)]
    assert len(told) == PEOPLE - 1
    assert all("Framing" in str(each) and "Drying" in str(each) for each in told)
