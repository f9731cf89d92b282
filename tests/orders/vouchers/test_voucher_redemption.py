"""The parts of a voucher's price and tax: every use its own, and none lost to the penny."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.vouchers.voucher_redemption import Part, Sold, parts

CARD = Sold(value_minor=5000, price_minor=4500, vat_minor=750)


def test_one_use_of_all_is_the_price_and_the_tax():
    """[src] VATA 1994 Sch 10B: worth 50.00, sold at 45.00, 20 %: tax of 7.50."""
    assert parts(CARD, [5000]) == [Part(4500, 750)]


def test_three_uses_make_it_up():
    assert parts(CARD, [1000, 1667, 2333]) == [Part(900, 150), Part(1500, 250), Part(2100, 350)]
    thirds = parts(Sold(1000, 999, 167), [333, 333, 334])
    assert sum(part.price_minor for part in thirds) == 999
    assert sum(part.vat_minor for part in thirds) == 167


def test_a_use_taken_back_is_its_mirror():
    assert parts(CARD, [1000, -1000, 5000]) == [Part(900, 150), Part(-900, -150), Part(4500, 750)]


@pytest.mark.parametrize("used", [[5001], [4000, 1001], [-1]])
def test_never_more_than_it_is_worth(used):
    with pytest.raises(ValueError, match="More was used"):
        parts(CARD, used)


@pytest.mark.parametrize("wrong", [(0, 0, 0), (100, 101, 0), (100, 90, 91), (100, 90, -1)])
def test_a_voucher_that_cannot_be(wrong):
    with pytest.raises(ValueError, match="worth something"):
        Sold(*wrong)


@given(st.data())
def test_parts_of_any_uses_add_up(data):
    value_minor = data.draw(st.integers(1, 10**6))
    price_minor = data.draw(st.integers(0, value_minor))
    vat_minor = data.draw(st.integers(0, price_minor))
    uses, left = [], value_minor
    for wanted in data.draw(st.lists(st.integers(-(10**5), 10**5), max_size=12)):
        minor = max(left - value_minor, min(wanted, left))
        uses.append(minor)
        left -= minor
    found = parts(Sold(value_minor, price_minor, vat_minor), [*uses, left])
    assert sum(part.price_minor for part in found) == price_minor
    assert sum(part.vat_minor for part in found) == vat_minor
