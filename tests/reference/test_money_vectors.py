"""Check values of VAT inside a price, split payments and shares, in pence.

Computed from the rules: a retailer rounds VAT half up to the penny (HMRC VATREC12020) [src]; the
last slice of a split payment takes the difference; a voucher for goods of one rate is taxed when
sold, at the price paid (VATA 1994 Sch 10B) [src]; largest remainder, ties to the earlier [computed].
20 % throughout; exact, no tolerance.
"""

from decimal import Decimal

import pytest

from studio import money

RATE = Decimal(20)


@pytest.mark.parametrize(
    ("gross", "vat"), [(19900, 3317), (25000, 4167), (999, 167), (25200, 4200), (4500, 750)]
)
def test_vat_inside_a_price(gross, vat):
    assert money.vat_inside(gross, RATE) == vat


def test_no_whole_penny_net_gives_some_prices():
    assert money.round_half_up(Decimal(832) * RATE / 100) == 166
    grosses = {net + money.round_half_up(net * RATE / 100) for net in range(12_000)}
    assert not any(gross % 6 == 3 for gross in grosses)
    assert {gross % 6 for gross in grosses} == {0, 1, 2, 4, 5}


@pytest.mark.parametrize(
    ("slices", "vats"),
    [
        ([5000, 20200], [833, 3367]),
        ([5000, 14900], [833, 2484]),
        ([333, 333, 333], [56, 56, 55]),
    ],
)
def test_the_last_slice_of_a_split_payment_takes_the_difference(slices, vats):
    whole = money.vat_inside(sum(slices), RATE)
    first = [money.vat_inside(part, RATE) for part in slices[:-1]]
    assert [*first, whole - sum(first)] == vats


def test_a_slice_rounded_alone_would_lose_a_penny():
    assert money.vat_inside(14900, RATE) == 2483
    assert 3 * money.vat_inside(333, RATE) == 168


@pytest.mark.parametrize(
    ("total", "weights", "parts"),
    [
        (1000, [15000, 7000], [682, 318]),
        (100, [1, 1, 1], [34, 33, 33]),
        (-1000, [15000, 7000], [-682, -318]),
    ],
)
def test_largest_remainder(total, weights, parts):
    assert money.share(total, weights) == parts


def test_zero_weight_refuses():
    with pytest.raises(ValueError, match="every weight is zero"):
        money.share(1000, [0, 0])
