"""The predicted mix: the child's (corrected) age at the sitting, the table of sizes, the unit's consistency."""

from datetime import timedelta

import pytest
from django.utils import timezone

from production import plaster, queries, sizes
from studio import actions as studio
from studio.models import Limb
from tests import makers

DAY = timedelta(days=1)


def job_of(unit, *, born_on, due_on=None, limbs=(Limb.LEFT_HAND,)):
    family = studio.add_family(
        unit,
        facts={"name": "Vale", "contact_name": "Jo Vale", "phone": "01632 960222"},
        children=[{"first_name": "Wren", "born_on": born_on, "due_on": due_on}],
    )
    return makers.a_job(unit, pieces=len(limbs), family=family)


def mix_of(unit, job):
    return queries.mix_of(job.pieces.first(), unit.consistency, timezone.localdate())


@pytest.mark.parametrize("consistency", [65, 70])
def test_the_mix_is_that_of_the_upper_size_at_the_sitting(unit, consistency):
    unit.consistency = consistency
    sitting_on = timezone.localdate() + DAY
    job = job_of(unit, born_on=sitting_on - 122 * DAY)
    months = 122 * 12 / 365.25
    length = sizes.expected_length("hand", months).high_mm
    breadth = sizes.expected_breadth("hand", months).high_mm
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
    each = [queries.mix_of(piece, 70, today) for piece in pieces]
    together = queries.predicted_mix(pieces, 70, today)
    assert together.plaster_g == pytest.approx(sum(mix.plaster_g for mix in each))
    assert together.water_g == pytest.approx(sum(mix.water_g for mix in each))


def test_loaded_pieces_take_no_more_queries(unit, in_clay, django_assert_num_queries):
    pieces = list(queries.pieces_to_pour(unit))
    with django_assert_num_queries(0):
        queries.predicted_mix(pieces, unit.consistency, timezone.localdate())
