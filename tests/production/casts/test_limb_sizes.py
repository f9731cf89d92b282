"""Expected sizes: between their neighbours, never shrinking, clamped at the ends."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.casts import limb_sizes

LIMBS = st.sampled_from(["hand", "foot"])

EITHER = st.sampled_from([limb_sizes.expected_length, limb_sizes.expected_breadth])

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
        limb_sizes.expected_length(limb, age_months).low_mm
        > limb_sizes.expected_breadth(limb, age_months).high_mm
    )
    assert (
        limb_sizes.expected_length("foot", age_months).mean_mm
        > limb_sizes.expected_length("hand", age_months).mean_mm
    )


def test_days_become_the_months_of_the_table():
    assert limb_sizes.age_in_months(84) == pytest.approx(2.76, abs=0.005)
    assert limb_sizes.age_in_months(1461) == 48


LENGTHS = st.lists(
    st.tuples(st.integers(1, 12), st.floats(2, 24), st.floats(-3, 3)), min_size=0, max_size=40
)


def lying(kind, told):
    """Children with limbs so many published standard deviations above the mean of their age."""
    found = []
    for child, age_months, off in told:
        size = limb_sizes.expected_length(kind, age_months)
        sd_mm = (size.high_mm - size.mean_mm) / 1.645
        found.append(limb_sizes.MeasuredLimb(child, age_months, size.mean_mm + off * sd_mm))
    return found


def test_without_own_pieces_the_published_sizes_stand():
    assert limb_sizes.calibrate("hand", []) == limb_sizes.PUBLISHED
    assert limb_sizes.expected_length(
        "hand", 4, limb_sizes.PUBLISHED
    ) == limb_sizes.expected_length("hand", 4)


def test_ten_children_weigh_as_much_as_the_published_table():
    own = limb_sizes.calibrate("hand", lying("hand", [(n, 4, 1) for n in range(10)]))
    assert own.children == 10
    assert own.shift_sd == pytest.approx(0.5)
    size = limb_sizes.expected_length("hand", 4, own)
    plain = limb_sizes.expected_length("hand", 4)
    assert size.mean_mm - plain.mean_mm == pytest.approx(
        (plain.high_mm - plain.mean_mm) / 1.645 / 2
    )


def test_a_childs_two_hands_are_one_child():
    twice = limb_sizes.calibrate("hand", lying("hand", [(1, 4, 2), (1, 4, 2), (1, 4.5, 2)]))
    assert twice == limb_sizes.calibrate("hand", lying("hand", [(1, 4, 2)]))
    assert twice.children == 1


def test_a_slip_of_the_rule_tells_nothing():
    assert (
        limb_sizes.calibrate("hand", [limb_sizes.MeasuredLimb(1, 4, 173)]) == limb_sizes.PUBLISHED
    )


@given(LIMBS, LENGTHS)
def test_own_pieces_draw_the_mean_towards_them_and_never_past_them(limb, told):
    measured = lying(limb, told)
    own = limb_sizes.calibrate(limb, measured)
    offs = [off for _, _, off in told]
    assert min([*offs, 0]) - 1e-6 <= own.shift_sd <= max([*offs, 0]) + 1e-6
    assert own.children == len({child for child, _, _ in told})
    assert own.spread > 0


@given(LIMBS, st.lists(st.floats(-2, 2), min_size=1, max_size=30))
def test_many_children_of_one_size_narrow_the_band_and_few_hardly(limb, offs):
    alike = limb_sizes.calibrate(limb, lying(limb, [(n, 4, offs[0]) for n in range(200)]))
    assert alike.spread < 0.6
    assert alike.shift_sd == pytest.approx(offs[0] * 200 / 210)


@given(LIMBS, st.floats(2, 60), st.floats(20, 250))
def test_a_verdict_follows_the_band_that_it_names(limb, age_months, length_mm):
    judged = limb_sizes.check_length(limb, age_months, length_mm)
    inside = judged.expected.low_mm <= length_mm <= judged.expected.high_mm
    assert (judged.verdict == "as_expected") == inside
    assert f"{judged.expected.low_mm:.0f} to {judged.expected.high_mm:.0f} mm" in judged.sentence
    if judged.verdict == "small":
        assert length_mm < judged.expected.low_mm


def test_what_is_said_at_the_sitting():
    four_months = 4
    assert limb_sizes.check_length("hand", four_months, 74).sentence == (
        "As expected: nine in ten have 63 to 83 mm at this age."
    )
    assert limb_sizes.check_length("hand", four_months, 85).verdict == "large"
    foot = limb_sizes.check_length("hand", four_months, 94)
    assert foot.verdict == "hardly"
    assert "It would fit a foot." in foot.sentence
    assert "Measure again." in limb_sizes.check_length("foot", four_months, 200).sentence
    assert "would fit" not in limb_sizes.check_length("foot", four_months, 200).sentence
    # A unit whose children are larger is not told so every time.
    own = limb_sizes.Calibration(children=60, shift_sd=0.9, spread=1)
    assert limb_sizes.check_length("hand", four_months, 85, own).verdict == "as_expected"
