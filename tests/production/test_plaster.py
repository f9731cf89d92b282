"""Mixes: what goes in comes out, and amounts that cannot be meant are refused."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production import plaster

VOLUMES_ML = st.floats(1, 49_000)
CONSISTENCIES = st.floats(20, 120)
PURITIES = st.floats(0.5, 1)


def close(value):
    return pytest.approx(value, rel=1e-9)


@given(VOLUMES_ML, CONSISTENCIES, PURITIES, st.floats(2, 3))
def test_masses_balance_and_the_slurry_fills_its_volume(volume_ml, consistency, purity, density):
    mix = plaster.mix(volume_ml, consistency, purity, density)
    assert mix.fresh_g == close(mix.plaster_g + mix.water_g)
    assert mix.fresh_g == close(mix.dry_g + mix.free_water_g)
    assert mix.water_g == close(mix.plaster_g * consistency / 100)
    assert mix.plaster_g / density + mix.water_g == close(volume_ml)
    bound_g = mix.dry_g - mix.plaster_g
    assert bound_g == pytest.approx(0.1862 * purity * mix.plaster_g, rel=0.0002)
    assert mix.free_water_g > 0
    assert mix.dry_g == close(mix.fresh_g * plaster.dry_share(consistency, purity))


@given(VOLUMES_ML, CONSISTENCIES, st.floats(1.01, 1.5))
def test_more_water_makes_a_lighter_cast_and_a_larger_volume_scales(volume_ml, consistency, more):
    mix = plaster.mix(volume_ml / more, consistency)
    assert plaster.mix(mix.volume_ml * more, consistency).plaster_g == close(mix.plaster_g * more)
    if consistency * more <= 120:
        wetter = plaster.mix(mix.volume_ml, consistency * more)
        assert wetter.dry_g < mix.dry_g
        assert wetter.free_water_g > mix.free_water_g


@given(st.lists(st.tuples(VOLUMES_ML, CONSISTENCIES), max_size=6))
def test_a_total_is_the_sum_of_every_column(pairs):
    mixes = [plaster.mix(*pair) for pair in pairs]
    total = plaster.total(mixes)
    for name in ("volume_ml", "plaster_g", "water_g", "fresh_g", "dry_g", "free_water_g"):
        assert getattr(total, name) == close(math.fsum(getattr(mix, name) for mix in mixes))


def test_a_slab_leaves_a_margin_on_all_four_sides():
    assert plaster.slab_volume_ml(120, 120, 20) == 288
    assert plaster.slab_for(80, 60) == plaster.slab_volume_ml(120, 100, 20)
    assert plaster.slab_for(80, 60, depth_mm=25, margin_mm=0) == close(120)


@pytest.mark.parametrize("volume_ml", [0, -1, 50_001, math.nan, math.inf])
def test_a_volume_that_cannot_be_meant_is_refused(volume_ml):
    with pytest.raises(ValueError, match="volume of a mix"):
        plaster.mix(volume_ml, 70)


@pytest.mark.parametrize("consistency", [0, -70, 19.9, 121, 0.7, math.nan, math.inf])
def test_a_consistency_that_cannot_be_poured_is_refused(consistency):
    with pytest.raises(ValueError, match="between 20 and 120"):
        plaster.mix(288, consistency)
    with pytest.raises(ValueError, match="between 20 and 120"):
        plaster.dry_share(consistency)


@pytest.mark.parametrize("purity", [0, 0.49, 1.01, 95, math.nan])
def test_a_purity_that_is_no_share_is_refused(purity):
    with pytest.raises(ValueError, match="purity"):
        plaster.mix(288, 70, purity)


@pytest.mark.parametrize("density", [0, 1.9, 3.1, 2700, math.nan])
def test_a_density_of_another_unit_is_refused(density):
    with pytest.raises(ValueError, match="density"):
        plaster.mix(288, 70, 1.0, density)


@pytest.mark.parametrize("sides_mm", [(0, 1, 1), (1, -1, 1), (1, 1, 0), (math.nan, 1, 1)])
def test_a_slab_without_a_side_is_refused(sides_mm):
    with pytest.raises(ValueError, match="above zero"):
        plaster.slab_volume_ml(*sides_mm)


def test_a_limb_without_a_size_or_with_a_negative_margin_is_refused():
    with pytest.raises(ValueError, match="limb must be above zero"):
        plaster.slab_for(0, 40)
    with pytest.raises(ValueError, match="limb must be above zero"):
        plaster.slab_for(73, -40)
    with pytest.raises(ValueError, match="margin"):
        plaster.slab_for(73, 40, margin_mm=-1)
    with pytest.raises(ValueError, match="depth"):
        plaster.slab_for(73, 40, depth_mm=0)
