"""ISO 11649 creditor references and the royalty's worked example.

[src] python-stdnum's documentation of `stdnum.iso11649`: RF18 5390 0754 7034 is valid, RF17... is not.
[computed] RF35C4 and RF214377 are wrong, RF51C4 and RF684377 right (check digits recomputed by hand).
[mem] The royalty figures are common practice, computed from the rule as it is written down in
`orders.royalty`; no source is published.
"""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum import iso11649

from orders.payments.payment_references import creditor_reference
from orders.royalty import franchise_fee


class TestCreditorReference:
    @pytest.mark.parametrize(
        ("bare", "whole"),
        [("C4", "RF51C4"), ("4377", "RF684377"), ("539007547034", "RF18539007547034")],
    )
    def test_published(self, bare, whole):
        assert creditor_reference(bare) == whole

    @pytest.mark.parametrize("wrong", ["RF17539007547034", "RF35C4", "RF214377"])
    def test_the_library_refuses_the_wrong_ones(self, wrong):
        assert not iso11649.is_valid(wrong)

    @given(st.text("0123456789ABCDEFGHJKMNPQRSTVWXYZ", min_size=8, max_size=8))
    def test_ours_hold_for_the_library_and_fit_a_bank_field(self, reference):
        whole = creditor_reference(reference)
        assert iso11649.is_valid(whole)
        assert len(whole) <= 18


TERMS = franchise_fee.Terms(date(2026, 1, 1), Decimal(8), Decimal(2), 0, Decimal(20))


class TestRoyalty:
    def test_the_worked_example(self):
        takings = [
            franchise_fee.Taking("INV", date(2026, 10, 3), 642000, 107000),
            franchise_fee.Taking("CRN", date(2026, 10, 9), -4200, -700),
        ]
        due = franchise_fee.due(takings, [TERMS], ends_on=date(2026, 10, 31))
        assert (due.net_minor, due.royalty_minor, due.levy_minor) == (531500, 42520, 10630)
        assert (due.vat_minor, due.payable_minor) == (10630, 63780)

    def test_the_minimum(self):
        terms = franchise_fee.Terms(date(2026, 1, 1), Decimal(8), Decimal(0), 15000)
        takings = [franchise_fee.Taking("INV", date(2026, 10, 3), 150000, 0)]
        due = franchise_fee.due(takings, [terms], ends_on=date(2026, 10, 31))
        assert (due.earned_minor, due.royalty_minor, due.is_minimum) == (12000, 15000, True)
