"""Two people at once, in threads and on a real database: one wins, the other is told."""

import uuid

import pytest

from bookings.consent.models import Consent
from bookings.sittings.models import ClayPrint, Sitting
from studio.jobs.models import Job
from studio.stages import ActionRefused
from tests.bookings.doing import Doing
from tests.crowd import at_once

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def doing(transactional_db):
    from tests import makers  # noqa: PLC0415 - the unit of this test alone

    return Doing(makers.a_unit())


def test_one_slot_is_taken_once(doing):
    families = [doing.family(name=f"Family {number}") for number in range(4)]
    results = at_once(*(lambda family=family: doing.book(family) for family in families))
    won = [result for result in results if isinstance(result, Sitting)]
    lost = [result for result in results if isinstance(result, ActionRefused)]
    assert (len(won), len(lost)) == (1, 3)
    assert Job.objects.count() == Sitting.objects.count() == 1
    assert all(won[0].job.family.name in str(refusal) for refusal in lost)


def test_one_key_is_one_booking(doing):
    family, key = doing.family(), uuid.uuid4()
    results = at_once(*[lambda: doing.book(family, key=key)] * 4)
    assert {result.pk for result in results} == {Sitting.objects.get().pk}


def test_one_limb_is_sat_for_once(doing):
    family = doing.family()
    results = at_once(
        lambda: doing.book(family, hours=0),
        lambda: doing.book(family, hours=4),
    )
    assert sum(isinstance(result, Sitting) for result in results) == 1
    assert ClayPrint.objects.filter(live=True).count() == 2


def test_one_sitting_is_moved_by_one_and_the_other_is_told(doing):
    sitting = doing.book(doing.family())
    copies = [Sitting.objects.get(pk=sitting.pk) for _ in range(2)]
    results = at_once(*(lambda copy=copy: doing.move(copy, seen_version=1) for copy in copies))
    assert sorted(type(result).__name__ for result in results) == ["EditedMeanwhile", "Sitting"]
    assert Sitting.objects.get().version == 2


def test_a_tap_twice_is_one_try(doing):
    clay_print, key = doing.book(doing.family()).prints.first(), uuid.uuid4()
    copies = [ClayPrint.objects.get(pk=clay_print.pk) for _ in range(2)]
    at_once(*(lambda copy=copy: doing.log(copy, "repeat", key=key) for copy in copies))
    assert ClayPrint.objects.get(pk=clay_print.pk).tries == 1


def test_a_yes_is_written_down_once(doing):
    family = doing.family()
    results = at_once(*[lambda: doing.consent(family)] * 2)
    assert sorted(type(result).__name__ for result in results) == ["ActionRefused", "Consent"]
    assert Consent.objects.count() == 1
