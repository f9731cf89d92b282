"""Expected sizes: between their neighbours, never shrinking, clamped at the ends."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production import sizes

LIMBS = st.sampled_from(["hand", "foot"])
EITHER = st.sampled_from([sizes.expected_length, sizes.expected_breadth])
AGES = st.floats(-10, 120)


@given(EITHER, LIMBS, AGES)
def test_the_band_lies_evenly_about_the_mean(expected, limb, age_months):
    size = expected(limb, age_months)
    assert 20 < size.low_mm < size.mean_mm < size.high_mm < 250
    assert size.high_mm - size.mean_mm == pytest.approx(size.mean_mm - size.low_mm)


@given(EITHER, LIMBS, AGES, st.floats(0, 12))
def test_a_limb_never_shrinks(expected, limb, age_months, later):
    assert expected(limb, age_months + later).mean_mm >= expected(limb, age_months).mean_mm - 1e-9


@given(EITHER, LIMBS, st.floats(1.5, 80.8), st.floats(0, 0.01))
def test_sizes_have_no_jumps(expected, limb, age_months, step):
    before, after = expected(limb, age_months), expected(limb, age_months + step)
    assert after.mean_mm - before.mean_mm <= 5 * step + 1e-9
    assert abs(after.high_mm - before.high_mm) <= 10 * step + 1e-9


@given(EITHER, LIMBS)
def test_ages_beyond_the_table_take_its_nearest_end(expected, limb):
    assert expected(limb, -3) == expected(limb, 0) == expected(limb, 1.5)
    assert expected(limb, 200) == expected(limb, 80.8)
    assert expected(limb, 80.8).mean_mm > expected(limb, 80).mean_mm


@given(LIMBS, AGES)
def test_a_limb_is_longer_than_broad_and_a_foot_longer_than_a_hand(limb, age_months):
    assert (
        sizes.expected_length(limb, age_months).low_mm
        > sizes.expected_breadth(limb, age_months).high_mm
    )
    assert (
        sizes.expected_length("foot", age_months).mean_mm
        > sizes.expected_length("hand", age_months).mean_mm
    )


def test_days_become_the_months_of_the_table():
    assert sizes.months_of(84) == pytest.approx(2.76, abs=0.005)
    assert sizes.months_of(1461) == 48
