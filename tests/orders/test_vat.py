"""Who is registered when, turnover against the threshold, discounts over lines, parts of invoices."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders import papers, vat
from orders.vat import Rate, Registration, Supply, Threshold

TODAY = date(2026, 11, 25)
UK = Threshold(date(2024, 4, 1), 90_000_00, 88_000_00)
RATES = [Rate(date(2011, 1, 4), Decimal(20)), Rate(date(2026, 12, 1), Decimal(15))]


class TestRegistration:
    @pytest.mark.parametrize(
        ("day", "percent"),
        [
            (date(2026, 5, 31), None),
            (date(2026, 6, 1), 20),
            (date(2026, 11, 30), 20),
            (date(2026, 12, 1), 15),
            (date(2027, 3, 31), 15),
            (date(2027, 4, 1), None),
        ],
    )
    def test_the_tax_point_decides(self, day, percent):
        registration = Registration(date(2026, 6, 1), date(2027, 4, 1))
        assert vat.percent_on(day, registration, RATES) == percent
        assert vat.percent_on(day, registration, RATES[::-1]) == percent

    def test_never_registered(self):
        assert vat.percent_on(TODAY, Registration(None), []) is None

    def test_registered_without_a_rate(self):
        with pytest.raises(vat.NoRate):
            vat.percent_on(date(2010, 1, 1), Registration(date(2009, 1, 1)), RATES)


class TestTurnover:
    def test_more_than_the_threshold_not_the_threshold(self):
        # Check values: 90,000.00 no, 90,000.01 yes (secondary tax pages [src]).
        at = vat.turnover([Supply(TODAY, 90_000_00)], [UK], TODAY)
        above = vat.turnover([Supply(TODAY, 90_000_01)], [UK], TODAY)
        assert (at.level, at.left_minor) == ("soon", 0)
        assert above.level == "over"

    def test_twelve_months_that_end_today(self):
        rows = [
            Supply(date(2025, 11, 25), 100),
            Supply(date(2025, 11, 26), 10),
            Supply(TODAY, 1),
            Supply(TODAY + timedelta(days=1), 1000),
        ]
        assert vat.twelve_months(rows, TODAY) == 11

    @pytest.mark.parametrize(
        ("minor", "level"), [(71_999_99, "calm"), (72_000_00, "soon"), (90_000_00, "soon")]
    )
    def test_the_warning_comes_at_the_mark(self, minor, level):
        # All of it long ago, so that no pace is seen.
        found = vat.turnover([Supply(TODAY - timedelta(days=200), minor)], [UK], TODAY)
        assert (found.level, found.reached_on) == (level, None)

    def test_the_pace_of_three_months_warns_before_the_mark(self):
        # 300.00 a day, begun 91 days ago: 27,300.00 so far; 90,000.00 are passed on day 301.
        rows = [Supply(TODAY - timedelta(days=n), 300_00) for n in range(91)]
        found = vat.turnover(rows, [UK], TODAY)
        assert found.level == "soon"
        assert found.reached_on == TODAY + timedelta(days=210)

    def test_what_falls_out_of_the_year_is_taken_off(self):
        # 240.00 a day for years: 87,600.00 each year, and never more.
        rows = [Supply(TODAY - timedelta(days=n), 240_00) for n in range(500)]
        assert vat.turnover(rows, [UK], TODAY).reached_on is None

    def test_the_threshold_of_the_day(self):
        later = Threshold(date(2027, 1, 1), 100_00, 90_00)
        assert vat.turnover([], [later, UK], TODAY).threshold == UK
        assert vat.turnover([], [later], TODAY).threshold is None


class TestCharged:
    def test_a_discount_is_spread_by_largest_remainder(self):
        # 1000 over 15000:7000 → 682, 318 (check value [computed]).
        assert vat.charged([15000, 7000, -1000]) == [14318, 6682, 0]

    def test_nothing_is_charged(self):
        assert vat.charged([0, -5]) == [0, 0]

    @given(st.lists(st.integers(-5000, 20_000), min_size=1, max_size=8))
    def test_no_minor_unit_appears_or_vanishes(self, gross):
        if any(amount > 0 for amount in gross):
            assert sum(vat.charged(gross)) == sum(gross)


POINTS = st.lists(
    st.tuples(
        st.integers(0, 40),
        st.integers(1, 90_000),
        st.sampled_from([None, Decimal(20), Decimal("17.5"), Decimal(5), Decimal(0)]),
    ),
    min_size=1,
    max_size=5,
)


@given(POINTS, st.lists(st.integers(1, 60_000), max_size=6))
def test_credit_notes_for_parts_come_to_the_invoice_to_the_penny(points, wanted):
    """Whatever parts are credited, the last note takes what is left: of the total and of each rate."""
    begins = date(2026, 1, 1)
    slices = [vat.TaxPoint(begins + timedelta(days=n), minor, rate) for n, minor, rate in points]
    total = sum(point.gross_minor for point in slices)
    invoice = papers.invoice("INV-1", _facts(total, slices))
    notes, left = [], total
    for number, part in enumerate(wanted, 1):
        if not 0 < part <= left:
            with pytest.raises(ValueError, match="at most what is left"):
                papers.credit_part(invoice, amount_minor=part, before=notes, **_how(number))
            continue
        notes.append(papers.credit_part(invoice, amount_minor=part, before=notes, **_how(number)))
        left -= part
    if left:
        notes.append(papers.credit(invoice, before=notes, **_how(99)))
    else:
        with pytest.raises(ValueError, match="Nothing of it is left"):
            papers.credit(invoice, before=notes, **_how(99))
    assert sum(note["total_minor"] for note in notes) == total
    for name in ("net_minor", "vat_minor"):
        assert sum(note.get(name, 0) for note in notes) == invoice.get(name, 0)
    for note in notes:
        assert all(tax["vat_minor"] >= 0 and tax["net_minor"] >= 0 for tax in note.get("taxes", []))
        assert sum(t["gross_minor"] for t in note.get("taxes", [])) in (note["total_minor"], 0)


def _how(number):
    return {"number": f"CRN-{number}", "issued_on": TODAY, "why": "A crack"}


def _facts(total, points):
    seller = papers.Seller(
        "Hollin Casts", "M. Hollin", "4 Kiln Yard", "CF10 9ZZ", "1", "a@example.com"
    )
    return papers.Facts(
        currency="GBP",
        seller=seller,
        customer=papers.Customer("Sam", "9 Quay Row", "CF10 9ZZ"),
        reference="CY8Y-EGPH",
        pieces=[],
        lines=[papers.Sold("Casts", 1, total)],
        received=[],
        tax_points=points,
        issued_on=TODAY,
        supplied_on=TODAY,
        due_on=TODAY,
        payment_words="",
    )
