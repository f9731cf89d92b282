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
    total = plaster.total_mix(mixes)
    for name in ("volume_ml", "plaster_g", "water_g", "fresh_g", "dry_g", "free_water_g"):
        assert getattr(total, name) == close(math.fsum(getattr(mix, name) for mix in mixes))


def test_a_slab_leaves_a_margin_on_all_four_sides():
    assert plaster.slab_volume_ml(120, 120, 20) == 288
    assert plaster.limb_slab_ml(80, 60) == plaster.slab_volume_ml(120, 100, 20)
    assert plaster.limb_slab_ml(80, 60, depth_mm=25, margin_mm=0) == close(120)


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


@pytest.mark.parametrize(
    "sides_mm", [(0, 1, 1), (1, 0, 1), (1, -1, 1), (1, 1, 0), (math.nan, 1, 1)]
)
def test_a_slab_without_a_side_is_refused(sides_mm):
    with pytest.raises(ValueError, match="above zero"):
        plaster.slab_volume_ml(*sides_mm)


def test_a_limb_without_a_size_or_with_a_negative_margin_is_refused():
    with pytest.raises(ValueError, match="limb must be above zero"):
        plaster.limb_slab_ml(0, 40)
    with pytest.raises(ValueError, match="limb must be above zero"):
        plaster.limb_slab_ml(73, 0)
    with pytest.raises(ValueError, match="margin"):
        plaster.limb_slab_ml(73, 40, margin_mm=-1)
    with pytest.raises(ValueError, match="depth"):
        plaster.limb_slab_ml(73, 40, depth_mm=0)


# Outlines, bags, buckets, heat, and what a unit's own pours teach


def test_an_oval_is_the_ellipse_in_its_box():
    whole = plaster.mould_volume_ml("rectangle", 120, 100, 20)
    assert whole == pytest.approx(240)
    assert plaster.mould_volume_ml("oval", 120, 100, 20) == pytest.approx(whole * math.pi / 4)


@given(st.floats(1, 25_000), st.floats(20, 120))
def test_what_a_bag_makes_takes_the_whole_bag(plaster_g, consistency):
    made = plaster.mix_from_powder(plaster_g, consistency)
    assert made.plaster_g == pytest.approx(plaster_g)
    assert made.water_g == pytest.approx(plaster_g * consistency / 100)
    assert made.volume_ml == pytest.approx(plaster.slurry_ml(plaster_g, made.water_g))


@given(st.floats(10, 5000), st.floats(20, 120), st.floats(0.5, 1))
def test_water_in_is_water_bound_and_free(volume_ml, consistency, purity):
    mix = plaster.mix(volume_ml, consistency, purity)
    bound_g = mix.plaster_g * purity * plaster.WATER_BOUND_G_PER_100_G / 100
    assert mix.water_g == pytest.approx(bound_g + mix.free_water_g)
    assert mix.free_water_g > 0
    assert mix.fresh_g == pytest.approx(mix.dry_g + mix.free_water_g)


@given(st.lists(st.floats(20, 3000), max_size=25), st.floats(200, 3000), st.floats(4, 30))
def test_every_mould_is_filled_once_and_no_bucket_overflows(volumes, bucket_ml, minutes):
    made = plaster.bucket_batches(volumes, bucket_ml, minutes)
    assert sorted(mould for one in made for mould in one.moulds) == list(range(len(volumes)))
    most = max(1, int((minutes - plaster.STIR_MINUTES) // plaster.POUR_MINUTES))
    for one in made:
        assert one.volume_ml == pytest.approx(sum(volumes[mould] for mould in one.moulds))
        assert one.volume_ml <= bucket_ml * one.buckets * (1 + 1e-9)
        assert len(one.moulds) == 1 or one.buckets == 1
        assert len(one.moulds) <= most


def test_slurry_gets_as_warm_as_is_published():
    """Bulk plaster reaches about 60 °C (NSEAD safety pages) [src]; a thin slab stays far below it."""
    low, high = plaster.setting_heat_c(70)
    assert 55 < high < 62
    assert 28 < low < 40
    assert plaster.setting_heat_c(70, purity=0.8)[1] < high


def test_one_pour_is_hardly_believed_and_many_are():
    spilt = plaster.PourVolume(1000, 800)
    factors = [plaster.learn_fill([spilt] * count).factor for count in (0, 1, 5, 40)]
    assert factors[0] == 1
    assert factors == sorted(factors, reverse=True)
    assert factors[1] > 0.9
    assert factors[3] == pytest.approx(0.8, rel=0.03)
    few, many = plaster.learn_fill([spilt]), plaster.learn_fill([spilt] * 40)
    assert few.unsure
    assert not many.unsure
    assert many.percent_words == "about 19 % less than foreseen"
    assert plaster.NO_CORRECTION.percent_words == "as much as foreseen"
    assert (plaster.NO_CORRECTION.low, plaster.NO_CORRECTION.high) == (1, 1)


def test_what_a_pour_cannot_have_filled_is_refused():
    with pytest.raises(ValueError, match="above zero"):
        plaster.PourVolume(0, 100)
    with pytest.raises(ValueError, match="above zero"):
        plaster.bucket_batches([100], 0, 10)
    with pytest.raises(ValueError, match="above zero"):
        plaster.mix_from_powder(0, 70)


# What a person reads off it


def test_the_edges_of_what_can_be_poured_belong_to_it():
    assert plaster.mix(50_000, 70).volume_ml == 50_000
    assert plaster.mix(288, 20, 0.5, 2).plaster_g > 0
    assert plaster.mix(288, 120, 1, 3).plaster_g > 0
    assert plaster.bucket_batches([0.5], 1, 1) == [plaster.Batch((0,), 0.5, 1)]
    assert plaster.limb_slab_ml(1, 1, 1, 0) == pytest.approx(0.001)
    assert plaster.learn_fill([plaster.PourVolume(0.5, 0.5)]).factor == 1


@pytest.mark.parametrize(
    ("consistency", "known"), [(64, False), (65, True), (70, True), (75, True), (76, False)]
)
def test_a_mix_within_five_parts_of_seventy_has_the_published_strength(consistency, known):
    assert plaster.has_published_strength(consistency) is known


@pytest.mark.parametrize(
    ("volumes", "minutes", "moulds"),
    [
        ([100, 100, 100], 4.5, [(0,), (1,), (2,)]),
        ([100, 100, 100], 6, [(0, 1), (2,)]),  # three minutes of stirring, then two pours
        ([100, 100, 100], 1, [(0,), (1,), (2,)]),  # one mould is always poured
        ([500, 500], 30, [(0, 1)]),  # a bucket is filled to the brim
        ([500, 501], 30, [(1,), (0,)]),
        ([400, 400, 600, 600], 30, [(0, 2), (1, 3)]),  # the largest first: two, not three
    ],
)
def test_which_moulds_one_bucket_fills(volumes, minutes, moulds):
    assert [one.moulds for one in plaster.bucket_batches(volumes, 1000, minutes)] == moulds


@pytest.mark.parametrize(("volume_ml", "buckets"), [(1000, 1), (1001, 2), (2500, 3)])
def test_a_mould_larger_than_a_bucket_has_several(volume_ml, buckets):
    (one,) = plaster.bucket_batches([volume_ml], 1000, 30)
    assert (one.volume_ml, one.buckets) == (volume_ml, buckets)


def test_how_warm_it_gets_worked_by_hand():
    """1 / 1.45149 mol in 100 g; 1.09 x 118.617 + 4.18 x 51.383 = 344.07 J/K."""
    low, high = plaster.setting_heat_c(70)
    assert low == pytest.approx(20 + 0.4 * 0.68895 * 17_200 / 344.07, abs=0.01)
    assert high == pytest.approx(20 + 0.68895 * 19_300 / 344.07, abs=0.01)
    colder = plaster.setting_heat_c(70, start_c=5)
    assert colder == pytest.approx((low - 15, high - 15))
    # Half of it plaster: half the heat, and 1.09 x 109.308 + 4.18 x 60.692 = 372.84 J/K.
    half = plaster.setting_heat_c(70, purity=0.5)
    assert half[1] == pytest.approx(20 + 0.344475 * 19_300 / 372.84, abs=0.01)


def test_what_one_pour_teaches_worked_by_hand():
    """ln 0.8 / 4 = -0.05579; the band is 1.28155 x sqrt(0.0280 + 3 x 0.0225) / 4 = 0.0990 wide."""
    fill = plaster.learn_fill([plaster.PourVolume(1000, 800)])
    assert fill.factor == pytest.approx(0.9457, abs=0.0001)
    assert (fill.low, fill.high) == pytest.approx((0.8566, 1.0442), abs=0.0002)
    assert fill.pours == 1
    nothing = plaster.learn_fill([])
    assert (nothing.low, nothing.high) == pytest.approx((0.895, 1.117), abs=0.001)


@pytest.mark.parametrize(
    ("fill", "words", "unsure"),
    [
        (plaster.FillFactor(1.06, 1.01, 1.1, 9), "about 6 % more than foreseen", False),
        (plaster.FillFactor(0.94, 0.9, 1.02, 3), "about 6 % less than foreseen", True),
        (plaster.FillFactor(1.004, 1.0, 1.02, 3), "as much as foreseen", False),
        (plaster.FillFactor(0.99, 0.97, 1.0, 3), "about 1 % less than foreseen", False),
    ],
)
def test_how_a_units_own_pours_are_said(fill, words, unsure):
    assert (fill.percent_words, fill.unsure) == (words, unsure)


def test_a_pour_that_filled_nothing_is_refused():
    with pytest.raises(ValueError, match="above zero"):
        plaster.PourVolume(100, 0)
    with pytest.raises(ValueError, match="above zero"):
        plaster.bucket_batches([100], 1000, 0)
