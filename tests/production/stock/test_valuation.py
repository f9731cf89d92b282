"""The arithmetic of the ledger: first in first out, and money that never gets lost."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.stock import valuation

LEFT = st.lists(st.integers(0, 10**6), max_size=8)

WANTED = st.integers(0, 10**6)


@given(LEFT, WANTED)
def test_what_is_taken_and_what_is_short_is_what_was_wanted(left, wanted):
    parts, short = valuation.first_in_first_out(left, wanted)
    assert sum(parts) + short == wanted
    assert all(0 <= part <= each for part, each in zip(parts, left, strict=True))
    assert not short or parts == left


@given(LEFT, WANTED)
def test_a_younger_lot_is_begun_only_when_the_older_ones_are_empty(left, wanted):
    parts, _ = valuation.first_in_first_out(left, wanted)
    for place, part in enumerate(parts):
        if part:
            assert parts[:place] == left[:place]


def test_by_hand():
    assert valuation.first_in_first_out([300, 25_000], 538) == ([300, 238], 0)
    assert valuation.first_in_first_out([300], 538) == ([300], 238)
    with pytest.raises(ValueError, match="less than nothing"):
        valuation.first_in_first_out([1], -1)
    assert valuation.value_of_part(269, 25_000, 2199) == 24  # 23.66 pence
    assert valuation.value_of_part(1, 2, 1) == 1  # half up
    assert valuation.value_of_part(0, 0, 0) == 0
    assert valuation.value_at_lot_price(12_500, 25_000, 2199) == 1100
    assert valuation.reusable_quantity(900, 95, 0) == 855
    assert valuation.reusable_quantity(900, 95, 855) == 0
    for wrong in ((2, 1, 5), (-1, 1, 5), (1, 2, -5)):
        with pytest.raises(ValueError, match="nothing and the whole"):
            valuation.value_of_part(*wrong)
    with pytest.raises(ValueError, match="real lot"):
        valuation.value_at_lot_price(1, 0, 5)


@given(st.integers(0, 10**7), st.lists(st.integers(1, 10**5), min_size=1, max_size=30))
def test_whoever_empties_a_lot_carries_off_its_last_penny(cost_minor, takings):
    left, left_minor = sum(takings), cost_minor
    for quantity in takings:
        value = valuation.value_of_part(quantity, left, left_minor)
        assert 0 <= value <= left_minor
        # within a penny and the rounding before it of the plain price
        assert abs(value - cost_minor * quantity / sum(takings)) <= len(takings)
        left, left_minor = left - quantity, left_minor - value
    assert (left, left_minor) == (0, 0)


@given(st.integers(0, 10**6), st.integers(0, 100), st.integers(0, 5))
def test_never_more_comes_back_than_was_used(used, percent, times):
    back = 0
    for _ in range(times):
        back += valuation.reusable_quantity(used, percent, back)
    assert back <= used
    assert times == 0 or back == used * percent // 100
