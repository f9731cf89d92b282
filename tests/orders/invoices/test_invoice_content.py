"""The frozen content: tax points, one rounding, lines that add up."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.invoices import invoice_content
from orders.prices import vat
from orders.prices.vat import Received, TaxPoint

SUPPLY = date(2026, 12, 18)

TWENTY = Decimal(20)


def received(*rows):
    return [Received(date(2026, month, day), amount, "card") for month, day, amount in rows]


class TestSlices:
    def test_the_deposit_is_taxed_on_receipt_and_the_rest_at_the_supply(self):
        # HMRC VATTOS5105 [src]
        slices = vat.slices(25200, received((12, 3, 5000)), SUPPLY)
        assert slices == [(date(2026, 12, 3), 5000), (SUPPLY, 20200)]

    def test_money_that_came_on_or_after_the_supply_makes_no_point_of_its_own(self):
        assert vat.slices(25200, received((12, 18, 5000), (12, 20, 100)), SUPPLY) == [
            (SUPPLY, 25200)
        ]

    def test_money_back_is_taken_from_the_newest_deposit(self):
        rows = received((11, 1, 3000), (11, 9, 4000), (11, 20, -2500))
        assert vat.slices(10000, rows, SUPPLY) == [
            (date(2026, 11, 1), 3000),
            (date(2026, 11, 9), 1500),
            (SUPPLY, 5500),
        ]

    def test_paid_in_full_before_leaves_nothing_for_the_supply(self):
        assert vat.slices(5000, received((11, 1, 5000)), SUPPLY) == [(date(2026, 11, 1), 5000)]

    @given(
        total=st.integers(1, 10**7),
        amounts=st.lists(
            st.tuples(st.integers(1, 28), st.integers(-(10**6), 10**6).filter(bool)), max_size=6
        ),
    )
    def test_the_slices_add_up_and_none_is_below_zero(self, total, amounts):
        rows = [Received(date(2026, 11, day), amount, "cash") for day, amount in amounts]
        slices = vat.slices(total, rows, SUPPLY)
        assert sum(amount for _, amount in slices) == total
        assert all(amount > 0 for _, amount in slices)
        assert [on for on, _ in slices] == sorted({on for on, _ in slices})


class TestTaxes:
    @pytest.mark.parametrize(
        ("slices", "vats"),
        [
            # TRADE "Check values", computed from HMRC VATREC12020 [src]; the last slice takes the rest.
            ([19900], [3317]),
            ([25000], [4167]),
            ([999], [167]),
            ([5000, 20200], [833, 3367]),
            ([5000, 14900], [833, 2484]),
            ([333, 333, 333], [56, 56, 55]),
        ],
    )
    def test_vat_is_rounded_once_on_the_total(self, slices, vats):
        points = [
            TaxPoint(date(2026, 1, day), amount, TWENTY) for day, amount in enumerate(slices, 1)
        ]
        (tax,) = vat.taxes(points)
        assert [vat for _, _, vat in tax.points] == vats
        assert tax.vat_minor == sum(vats)
        assert tax.net_minor + tax.vat_minor == tax.gross_minor == sum(slices)

    def test_each_rate_stands_by_itself_and_untaxed_money_last(self):
        points = [
            TaxPoint(date(2026, 1, 1), 1200, None),
            TaxPoint(date(2026, 2, 1), 1150, Decimal(15)),
            TaxPoint(date(2026, 3, 1), 1200, TWENTY),
        ]
        taxes = vat.taxes(points)
        assert [(t.percent, t.vat_minor) for t in taxes] == [(20, 200), (15, 150), (None, 0)]


class TestNets:
    def test_the_lines_add_up_to_the_net_total(self):
        # 19900 + 12500 = 32400 holds 5400 of VAT at 20 %.
        assert vat.nets([19900, 12500], 27000) == [16583, 10417]

    def test_a_reduction_takes_its_part_below_zero(self):
        assert vat.nets([12000, -2400], 8000) == [10000, -2000]

    def test_lines_that_come_to_nothing_refuse(self):
        with pytest.raises(ValueError, match="come to nothing"):
            vat.nets([100, -100], 0)

    @given(
        gross=st.lists(st.integers(-(10**6), 10**6), min_size=1, max_size=9),
        percent=st.integers(0, 30),
    )
    def test_no_line_is_a_penny_off(self, gross, percent):
        total = sum(gross)
        if total <= 0:
            return
        net = total * 100 // (100 + percent)
        parts = vat.nets(gross, net)
        assert sum(parts) == net
        for amount, part in zip(gross, parts, strict=True):
            assert abs(part - amount * net / total) < 1


@pytest.mark.parametrize("words", ["VAT at 20 %", "incl. vat", "plus V.A.T.", "VAT"])
def test_words_of_vat_are_found_wherever_they_stand(words):
    assert invoice_content.names_vat({"lines": [{"label": words}]}) == words


@pytest.mark.parametrize("words", ["Cravat", "Vatson", "private", "a vatic word"])
def test_other_words_pass(words):
    assert invoice_content.names_vat({"lines": [{"label": words}]}) is None
