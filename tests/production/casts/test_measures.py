"""What the unit's own prints tell, and the size of a piece."""

import uuid

import pytest
from django.utils import timezone

from bookings.sittings import actions as sittings_actions
from production.casts import limb_sizes
from production.casts.measures import own_calibrations, piece_size, store_calibrations
from studio.stages import Stage
from tests import makers
from tests.parts.markup import folded

pytestmark = pytest.mark.django_db


def measured(unit, length_mm, *, pieces=2):
    """A job whose prints were taken, each so long."""
    job = makers.a_job(unit, pieces=pieces)
    sitting = job.sittings.get()
    for clay_print in sitting.prints.all():
        sittings_actions.log_print(
            clay_print,
            outcome="taken",
            marks={},
            length_mm=length_mm,
            by=makers.owner_of(unit),
            at=sitting.starts_at,
            key=uuid.uuid4(),
        )
    return job


def test_without_a_measured_print_the_published_sizes_stand(unit):
    job = makers.a_job(unit)
    own = own_calibrations(unit)
    assert own == {"hand": limb_sizes.PUBLISHED, "foot": limb_sizes.PUBLISHED}
    found = piece_size(job.pieces.first(), timezone.localdate(), own)
    assert found.measured_mm is None
    assert found.judged is None
    assert found.to_frame_mm == found.length.high_mm
    assert found.breadth.mean_mm < found.length.mean_mm


def test_both_hands_of_a_child_are_one_and_other_units_tell_nothing(unit):
    measured(unit, 80)
    measured(makers.a_unit("Elsewhere"), 60)
    own = own_calibrations(unit)
    assert own["hand"].children == 1
    assert own["hand"].shift_sd > 0
    assert own["foot"] == limb_sizes.PUBLISHED


def test_what_was_measured_is_framed_and_judged(unit):
    job = measured(unit, 120, pieces=1)
    found = piece_size(job.pieces.get(), timezone.localdate(), own_calibrations(unit))
    assert found.to_frame_mm == 120
    assert found.judged.verdict == "hardly"


def test_the_job_says_what_is_expected_and_whether_what_was_measured_can_be(unit, owner):
    job = makers.a_job(unit)
    said = " ".join(owner.get(job.get_absolute_url()).content.decode().split())
    assert "expected 6." in said
    assert "United States, 1975–77." in said
    measured(unit, 75)
    job = measured(unit, 120)
    said = " ".join(owner.get(job.get_absolute_url()).content.decode().split())
    assert "12.0 cm long." in said
    assert "Hardly possible" in said
    assert "and 1 of your own" in said, "the slip of 120 mm is not learnt from"


def test_after_the_pour_only_what_was_measured_is_told(unit, owner):
    job = makers.job_at(Stage.DRYING, unit)
    assert "Nine in ten, flat" not in folded(owner.get(job.get_absolute_url()).content.decode())


def test_the_reads_do_not_grow_with_the_prints(unit, constant_queries):
    measured(unit, 75)
    constant_queries(
        lambda: store_calibrations(unit), lambda: [measured(unit, 76) for _ in range(3)]
    )


def test_a_print_that_is_taken_again_is_not_learnt_from_any_more(unit):
    job = measured(unit, 80, pieces=1)
    clay_print = job.sittings.get().prints.get()
    sittings_actions.log_print(
        clay_print,
        outcome="repeat",
        by=makers.owner_of(unit),
        at=timezone.now(),
        key=uuid.uuid4(),
    )
    assert own_calibrations(unit)["hand"] == limb_sizes.PUBLISHED
