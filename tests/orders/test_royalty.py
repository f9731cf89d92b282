"""The royalty of any takings: rates by their day, rounded once, a minimum, nothing twice."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.royalty import Taking, Terms, due

OCTOBER = date(2026, 10, 31)
OLD = Terms(date(2026, 1, 1), Decimal(8), Decimal(2))
NEW = Terms(date(2026, 10, 16), Decimal(10), Decimal(1))

days = st.integers(0, 30).map(lambda n: date(2026, 10, 1) + timedelta(days=n))
takings = st.lists(
    st.tuples(days, st.integers(-50_000, 200_000)).map(
        lambda each: Taking(str(each), each[0], each[1], each[1] // 6)
    ),
    max_size=30,
)


def test_a_rate_that_changes_in_the_middle_is_each_days_own():
    papers = [Taking("a", date(2026, 10, 15), 10000, 0), Taking("b", date(2026, 10, 16), 10000, 0)]
    found = due(papers, [NEW, OLD], ends_on=OCTOBER)
    assert [share.royalty_minor for share in found.shares] == [800, 1000]
    assert [share.levy_minor for share in found.shares] == [200, 100]


def test_a_day_before_any_terms_is_told():
    with pytest.raises(ValueError, match=r"No royalty terms are written down for 31 Dec 2025"):
        due([Taking("a", date(2025, 12, 31), 100, 0)], [OLD], ends_on=OCTOBER)


def test_credits_above_the_takings_come_back():
    found = due([Taking("a", date(2026, 10, 2), -10000, 0)], [OLD], ends_on=OCTOBER)
    assert found.payable_minor == -1000


def test_without_takings_the_minimum_is_due_and_no_division_fails():
    terms = Terms(date(2026, 1, 1), Decimal(8), Decimal(2), 15000, Decimal(20))
    found = due([], [terms], ends_on=OCTOBER)
    assert (found.royalty_minor, found.levy_minor, found.vat_minor) == (15000, 0, 3000)


@given(takings)
def test_the_shares_add_up_and_no_rounding_is_above_half_a_penny_a_share(papers):
    found = due(papers, [OLD, NEW], ends_on=OCTOBER)
    assert found.net_minor == sum(share.net_minor for share in found.shares)
    exact = sum(
        share.net_minor * (share.terms.royalty_percent + share.terms.levy_percent) / 100
        for share in found.shares
    )
    assert abs(found.payable_minor - exact) <= Decimal("0.5") * 2 * len(found.shares)


@given(takings, takings)
def test_what_is_credited_again_costs_nothing(papers, others):
    """A period in which everything is reversed owes nothing but the minimum."""
    mirror = [Taking(f"-{p.source}", p.on, -p.gross_minor, -p.vat_minor) for p in papers]
    assert due(papers + mirror, [OLD, NEW], ends_on=OCTOBER).payable_minor == 0
    whole = due(others + papers + mirror, [OLD, NEW], ends_on=OCTOBER)
    assert whole.payable_minor == due(others, [OLD, NEW], ends_on=OCTOBER).payable_minor
