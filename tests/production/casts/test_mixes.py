"""The predicted mix: the child's (corrected) age at the sitting, the table of sizes, the unit's consistency."""

from dataclasses import replace
from datetime import timedelta

import pytest
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from production import plaster
from production.casts import limb_sizes, mixes
from production.casts import pieces as casts_pieces
from studio.families import actions as families_actions
from studio.jobs.models import Piece
from studio.limbs import Limb
from tests import makers

DAY = timedelta(days=1)


def job_of(unit, *, born_on, due_on=None, limbs=(Limb.LEFT_HAND,)):
    family = families_actions.add_family(
        unit,
        facts={"name": "Vale", "contact_name": "Jo Vale", "phone": "01632 960222"},
        children=[{"first_name": "Wren", "born_on": born_on, "due_on": due_on}],
    )
    return makers.a_job(unit, pieces=len(limbs), family=family)


def mix_of(unit, job):
    return mixes.mix_of(job.pieces.first(), mixes.mixing_of(unit), timezone.localdate())


@pytest.mark.parametrize("consistency", [65, 70])
def test_the_mix_is_that_of_the_upper_size_at_the_sitting(unit, consistency):
    unit.consistency = consistency
    sitting_on = timezone.localdate() + DAY
    job = job_of(unit, born_on=sitting_on - 122 * DAY)
    months = 122 * 12 / 365.25
    length = limb_sizes.expected_length("hand", months).high_mm
    breadth = limb_sizes.expected_breadth("hand", months).high_mm
    # A slab 2 cm thick with 2 cm round the limb on every side.
    volume_ml = (length + 40) * (breadth + 40) * 20 / 1000
    assert mix_of(unit, job) == plaster.mix(volume_ml, consistency)


def test_a_child_born_early_is_judged_by_the_due_date(unit):
    sitting_on = timezone.localdate() + DAY
    born_on = sitting_on - 150 * DAY
    early = mix_of(unit, job_of(unit, born_on=born_on, due_on=born_on + 56 * DAY))
    same = mix_of(unit, job_of(unit, born_on=born_on + 56 * DAY))
    late = mix_of(unit, job_of(unit, born_on=born_on))
    assert early == same
    assert early.plaster_g < late.plaster_g


def test_a_child_seen_before_its_due_date_takes_the_smallest_size(unit):
    sitting_on = timezone.localdate() + DAY
    job = job_of(unit, born_on=sitting_on - 90 * DAY, due_on=sitting_on + 10 * DAY)
    assert mix_of(unit, job).plaster_g > 0


def test_the_mix_of_several_is_their_sum(unit, in_clay):
    today = timezone.localdate()
    pieces = list(in_clay.pieces.all())
    mixing = mixes.mixing_of(unit)
    each = [mixes.mix_of(piece, mixing, today) for piece in pieces]
    together = mixes.predicted_mix(pieces, mixing, today)
    assert together.plaster_g == pytest.approx(sum(mix.plaster_g for mix in each))
    assert together.water_g == pytest.approx(sum(mix.water_g for mix in each))


def test_loaded_pieces_take_no_more_queries(unit, in_clay, django_assert_num_queries):
    pieces = list(casts_pieces.pieces_to_pour(unit))
    mixing = mixes.mixing_of(unit)
    with django_assert_num_queries(0):
        mixes.predicted_mix(pieces, mixing, timezone.localdate())


def measured(unit, in_clay, length_mm):
    """The volume of the first piece with a print of that length, None for unmeasured."""
    piece = in_clay.pieces.first()
    piece.prints.update(length_mm=length_mm)
    return mixes.volume_ml(
        Piece.objects.get(pk=piece.pk), mixes.mixing_of(unit), timezone.localdate()
    )


@given(shorter_mm=st.integers(60, 84), longer_mm=st.integers(60, 84))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=15)
def test_a_print_measured_at_the_sitting_is_what_the_slab_is_laid_round(
    unit, in_clay, shorter_mm, longer_mm
):
    shorter_mm, longer_mm = sorted((shorter_mm, longer_mm))
    shorter, longer = (measured(unit, in_clay, each) for each in (shorter_mm, longer_mm))
    assert shorter / longer == pytest.approx((shorter_mm + 40) / (longer_mm + 40))


def test_a_length_that_cannot_be_is_not_mixed_for(unit, in_clay):
    assert measured(unit, in_clay, 390) == measured(unit, in_clay, None)


def test_what_moulds_took_less_than_foreseen_makes_no_measured_print_run_short(unit, in_clay):
    piece, today = in_clay.pieces.first(), timezone.localdate()
    usual = mixes.mixing_of(unit)
    less, more = (replace(usual, fill=replace(usual.fill, factor=by)) for by in (0.7, 1.3))
    piece.prints.update(length_mm=None)
    piece = Piece.objects.get(pk=piece.pk)
    plain = mixes.volume_ml(piece, usual, today)
    assert mixes.volume_ml(piece, less, today) == pytest.approx(0.7 * plain)
    piece.prints.update(length_mm=73)
    piece = Piece.objects.get(pk=piece.pk)
    plain = mixes.volume_ml(piece, usual, today)
    assert mixes.volume_ml(piece, less, today) == plain
    assert mixes.volume_ml(piece, more, today) == pytest.approx(1.3 * plain)
