"""The royalty of any takings: rates by their day, rounded once, a minimum, nothing twice."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.royalty.franchise_fee import Taking, Terms, due

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


def test_the_return_adds_up_its_papers_and_the_vat_on_the_fee():
    terms = Terms(date(2026, 10, 1), Decimal(8), Decimal(2), 0, Decimal(20))
    papers = [
        Taking("a", date(2026, 10, 1), 12_000, 2000),
        Taking("b", date(2026, 10, 1), 6000, 1000),
    ]
    found = due(papers, [terms], ends_on=OCTOBER)
    assert (found.gross_minor, found.vat_inside_minor, found.net_minor) == (18_000, 3000, 15_000)
    assert (found.royalty_minor, found.levy_minor, found.vat_minor) == (1200, 300, 300)
    assert found.payable_minor == 1800


@pytest.mark.parametrize(
    ("minimum_minor", "royalty_minor", "is_minimum"),
    [(0, 800, False), (1, 800, False), (800, 800, False), (801, 801, True)],
)
def test_the_minimum_is_due_where_the_percentage_earns_less(
    minimum_minor, royalty_minor, is_minimum
):
    terms = Terms(date(2026, 1, 1), Decimal(8), Decimal(2), minimum_minor)
    found = due([Taking("a", date(2026, 10, 2), 10_000, 0)], [terms], ends_on=OCTOBER)
    assert (found.earned_minor, found.royalty_minor) == (800, royalty_minor)
    assert found.is_minimum is is_minimum
    assert found.levy_minor == 200, "the levy has no minimum"


def test_a_minimum_lasts_no_longer_than_its_terms():
    """It is that of the period's last day."""
    before = Terms(date(2026, 1, 1), Decimal(8), Decimal(2), 15_000)
    assert due([], [before, NEW], ends_on=date(2026, 10, 15)).royalty_minor == 15_000
    assert due([], [before, NEW], ends_on=date(2026, 10, 16)).royalty_minor == 0


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
