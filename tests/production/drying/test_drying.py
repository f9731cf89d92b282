"""Dry or not: what the weighings, the mix and a plain kitchen scale allow to be said.

The curves come from the solvers of `tests/curves.py`, which are checked in
`tests/reference/test_drying_published.py`.
"""

import math
from datetime import timedelta

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from production import plaster
from production.drying.by_weight import (
    Dryness,
    Weighed,
    fit_exponential,
    is_heavier,
    judge_by_weight,
)
from tests import curves

MIX = plaster.mix(288, 70)

FRESH_G, DRY_G, FREE_G = MIX.fresh_g, MIX.dry_g, MIX.free_water_g


def weighed(*day_and_mass):
    return [Weighed(curves.RACKED_AT + timedelta(days=day), mass) for day, mass in day_and_mass]


def judged(*day_and_mass, fresh_g=FRESH_G, consistency=70.0):
    return judge_by_weight(weighed(*day_and_mass), fresh_g=fresh_g, consistency=consistency)


def days_until_dry(curve, *, fresh_g, scale_g=1.0, consistency=70.0, horizon=200):
    """The first day on which daily weighings are judged dry."""
    for day in range(1, horizon):
        done = curves.weighings(curve, range(day + 1), scale_g)
        if judge_by_weight(done, fresh_g=fresh_g, consistency=consistency).dry:
            return day
    return None


@pytest.mark.parametrize(
    ("weighings", "sentence"),
    [
        ([], "Not weighed yet: weigh it today and again tomorrow."),
        ([(0, 457)], "Weighed once: weigh again tomorrow, at least 20 hours later."),
        (
            [(0, 457), (0.5, 450)],
            (
                "The weighings are too close together: weigh again tomorrow, at least 20 hours after "
                "the first."
            ),
        ),
        ([(0, 457), (1, 450.8)], "Still losing 6.2 g a day: weigh again tomorrow."),
        (
            [(0, 320), (1, 323)],
            "Heavier by 3.0 g than on Mon 2 Nov: check piece and scale, then weigh again tomorrow.",
        ),
        ([(0, 319), (1, 320)], "Not steady yet: weigh again tomorrow."),
        (
            [(0, 324), (1, 324)],
            (
                "Steady, but 5 g above the dry weight of its mix: dry if it holds for three days. Weigh "
                "again tomorrow."
            ),
        ),
        (
            [(0, 340), (1, 340)],
            (
                "Steady, but about 21 g of water are left by the mix: move it to warmer, moving air (not "
                "above 42 °C), or check the mix and the fresh weight that were noted."
            ),
        ),
    ],
    ids=["none", "once", "close", "losing", "heavier", "flicker", "above", "damp"],
)
def test_a_damp_cast_says_what_to_do(weighings, sentence):
    dryness = judged(*weighings)
    assert not dryness.dry
    assert dryness.sentence == sentence


def test_a_dry_cast_says_what_it_rests_on():
    assert judged((0, 319), (1, 319)) == Dryness(
        True, "Dry: the weight is steady and agrees with the mix.", 0.0, 0.0
    )
    without = judged((0, 319), (1, 319), (2, 319), fresh_g=None)
    assert without.dry
    assert "a slow cast may hide a little damp" in without.sentence
    assert without.free_water_left_g is None
    light = judged((0, 300), (1, 300), (2, 300))
    assert light.dry
    assert "was the fresh weight right?" in light.sentence
    assert light.free_water_left_g is None


def test_the_two_figures():
    dryness = judged((0, 400), (2, 392))
    assert dryness.loss_percent_per_day == pytest.approx(1.0)
    assert dryness.free_water_left_g == pytest.approx(392 - DRY_G)
    assert judged((0, 400)).loss_percent_per_day is None
    assert judged((0, 400)).free_water_left_g == pytest.approx(400 - DRY_G)
    assert judged((0, 319), (1, 320)).loss_percent_per_day == pytest.approx(-100 / 319)


def test_twenty_hours_count_and_less_does_not():
    assert judged((0, 319), (20 / 24, 319)).dry
    assert not judged((0, 319), (19.9 / 24, 319)).dry


def test_the_latest_weighing_twenty_hours_back_is_compared():
    dryness = judged((0, 400), (1, 330), (1.9, 319.1), (2, 319))
    assert dryness.loss_percent_per_day == pytest.approx(100 * 11 / 330)


def test_without_a_fresh_weight_it_must_hold_for_two_days():
    two = judged((0, 319), (1, 319), fresh_g=None)
    assert not two.dry
    assert "dry if it holds for two days" in two.sentence
    assert judged((0, 319), (1, 319), (2, 319), fresh_g=None).dry
    assert judged((0, 319), (2, 319), fresh_g=None).dry


def test_above_its_mix_it_must_hold_for_three_days():
    assert not judged((0, 324), (1, 324), (2, 324)).dry
    assert judged((0, 324), (1, 324), (2, 324), (3, 324)).dry


def test_a_scale_that_flickers_by_a_gram_does_not_block_for_ever():
    flicker = [(day, 319 + day % 2) for day in range(9)]
    assert not judged(*flicker[:2]).dry
    assert judged(*flicker).dry


def test_moved_from_the_cold_it_loses_again_and_is_not_dry():
    assert judged((0, 320), (9, 320)).dry
    assert not judged((0, 320), (9, 320), (10, 318)).dry


def test_a_cast_that_got_wet_is_not_dry_by_its_old_weight():
    assert not judged((0, 320), (1, 325), (2, 320)).dry
    assert not judged((0, 320), (1, 323), (2, 321), (3, 320)).dry


@given(st.permutations([(0, 457.0), (2, 380.0), (4, 340.0), (6, 325.0), (7, 320.0)]))
def test_the_order_of_entry_does_not_matter(shuffled):
    assert judged(*shuffled) == judged(*sorted(shuffled))


@given(st.floats(1, 20), st.sampled_from([0.1, 1.0]), st.booleans())
def test_a_cast_passes_in_the_end_and_not_while_it_is_wet(days_per_fourier, scale_g, known):
    curve = curves.slab(DRY_G, FREE_G, days_per_fourier)
    day = days_until_dry(curve, fresh_g=FRESH_G if known else None, scale_g=scale_g)
    assert day is not None
    left = (curve(day) - DRY_G) / DRY_G
    assert left < 0.012
    assert (curve(day) - DRY_G) / FREE_G < 0.07, "93 % of the free water is gone"


@given(
    st.floats(2, 8),
    st.floats(0.97, 1.03),
    st.floats(150, 1500),
    st.lists(st.integers(-1, 1), min_size=60, max_size=60),
)
def test_a_gram_of_scale_error_and_three_percent_of_mix_do_not_block(
    days_per_fourier, mixed, volume_ml, errors
):
    true = plaster.mix(volume_ml, 70 * mixed)
    curve = curves.slab(true.dry_g, true.free_water_g, days_per_fourier)
    read = [
        Weighed(one.at, one.mass_g + error)
        for one, error in zip(curves.weighings(curve, range(60)), errors, strict=True)
    ]
    judgements = [
        judge_by_weight(read[: day + 1], fresh_g=read[0].mass_g, consistency=70)
        for day in range(60)
    ]
    first = next((day for day, judgement in enumerate(judgements) if judgement.dry), None)
    assert first is not None
    allowed_g = 0.02 * true.dry_g + 4
    assert curve(first) - true.dry_g < allowed_g


def test_the_trap_of_the_slow_cast():
    """Under 0.1 % a day alone would pass a cast that still holds over two percent of water."""
    slow = curves.slab(DRY_G, FREE_G, 60)
    day = next(day for day in range(1, 200) if slow(day - 1) - slow(day) < 0.001 * slow(day))
    assert slow(day) - DRY_G > 0.02 * DRY_G
    for fresh_g in (FRESH_G, None):
        done = curves.weighings(slow, range(day + 1), 0.1)
        dryness = judge_by_weight(done, fresh_g=fresh_g, consistency=70, scale_g=0.1)
        assert not dryness.dry, dryness.sentence


def test_the_end_that_weighings_head_for_holds_a_slow_cast_back():
    """Steady for two days, the mix unknown: only the curve of its own weighings shows the water."""
    slow = curves.slab(DRY_G, FREE_G, 60)
    done = curves.weighings(slow, range(81), 0.1)
    assert slow(80) - DRY_G > 0.01 * DRY_G
    held = judge_by_weight(done, fresh_g=None, consistency=70, scale_g=0.1)
    assert not held.dry
    assert "still to lose: weigh again in two days" in held.sentence
    without_its_past = judge_by_weight(done[-3:], fresh_g=None, consistency=70, scale_g=0.1)
    assert without_its_past.dry


@given(st.floats(20, 60), st.floats(0.95, 1.3))
@example(20.0, 1.012)
def test_far_above_the_mix_it_is_never_dry_by_this_rule(consistency, factor):
    dry_g = FRESH_G * plaster.dry_share(consistency)
    mass_g = dry_g * factor
    days = [(day, mass_g) for day in range(30)]
    assert judged(*days, consistency=consistency).dry == (
        mass_g - dry_g <= _widest_g(dry_g, consistency)
    )


def _widest_g(dry_g, consistency):
    share = plaster.dry_share(consistency)
    close_g = min(0.005 * dry_g, 0.07 * (FRESH_G - dry_g)) + 1 + share
    off_g = dry_g * ((100 + consistency) / (100 + 0.97 * consistency) - 1)
    return close_g + off_g


@given(st.floats(100, 2000), st.floats(20, 500), st.floats(0.05, 1), st.floats(1, 4))
def test_an_exponential_is_found_again(end_g, above_g, rate_per_day, step_days):
    masses = [end_g + above_g * math.exp(-rate_per_day * step_days * n) for n in range(3)]
    earlier_g, later_g = masses[0] - masses[1], masses[1] - masses[2]
    assume(later_g > 2 and earlier_g - later_g > 1 and end_g > masses[2] / 2)
    found = fit_exponential(weighed(*((n * step_days, mass) for n, mass in enumerate(masses))))
    assert found is not None
    assert found.end_g == pytest.approx(end_g, abs=0.01)
    assert found.rate_per_day == pytest.approx(rate_per_day, rel=0.001)


@pytest.mark.parametrize(
    "masses",
    [
        [(0, 500), (1, 470)],
        [(0, 500), (1, 480), (2, 460)],
        [(0, 500), (1, 490), (2, 470)],
        [(0, 500), (1, 480), (2, 481)],
        [(0, 500), (1, 498.5), (2, 497.5)],
        [(0, 500), (1, 480), (3, 470)],
        [(0, 500), (0.3, 480), (0.6, 470)],
        [(0, 500), (1, 400), (2, 302)],
        [(0, 500), (1, 420), (2, 358)],
        [(0, 457), (5, 360), (9, 319), (10, 319)],
        [(0, 457), (5, 360), (8, 319), (10, 319)],
    ],
    ids=[
        "two",
        "linear",
        "faster",
        "heavier",
        "noise",
        "uneven",
        "hours",
        "below zero",
        "below half",
        "flat",
        "missed",
    ],
)
def test_no_fit_where_the_weighings_show_none(masses):
    assert fit_exponential(weighed(*masses)) is None


def test_rising_allows_for_the_scale():
    previous = Weighed(curves.RACKED_AT, 400)
    assert not is_heavier(previous, 399)
    assert not is_heavier(previous, 401)
    assert is_heavier(previous, 401.1)
    assert is_heavier(previous, 401, tolerance_g=0.1)


@pytest.mark.parametrize("mass_g", [0, -1, math.nan])
def test_a_weight_that_cannot_be_is_refused(mass_g):
    with pytest.raises(ValueError, match="weight must be above zero"):
        Weighed(curves.RACKED_AT, mass_g)
    with pytest.raises(ValueError, match="fresh weight must be above zero"):
        judged((0, 319), (1, 319), fresh_g=mass_g)


def test_a_consistency_that_cannot_be_is_refused():
    with pytest.raises(ValueError, match="between 20 and 120"):
        judged((0, 319), (1, 319), fresh_g=None, consistency=0.7)
