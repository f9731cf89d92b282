"""Who is registered when, turnover against the threshold, discounts over lines, parts of invoices."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.invoices import invoice_content
from orders.prices import vat
from orders.prices.vat import Rate, Registration, Supply, Threshold

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

    def test_a_day_ninety_one_days_ago_is_no_longer_the_pace(self):
        # 40,000.00 in one day: at that pace the threshold is passed, without it nothing is foreseen.
        long_ago, lately = (TODAY - timedelta(days=n) for n in (91, 90))
        assert vat.turnover([Supply(long_ago, 40_000_00)], [UK], TODAY).reached_on is None
        # 80,000.00 after 91 days more, so 50,000.00 further take another 113.75 days.
        found = vat.turnover([Supply(lately, 40_000_00)], [UK], TODAY)
        assert found.reached_on == TODAY + timedelta(days=114)

    def test_reaching_the_threshold_to_the_penny_is_not_passing_it(self):
        # 100.00 a day for 91 days, and once more each day: 182 days make exactly 18,200.00.
        rows = [Supply(TODAY - timedelta(days=n), 100_00) for n in range(91)]
        limit = Threshold(date(2024, 4, 1), 18_200_00, 18_000_00)
        assert vat.turnover(rows, [limit], TODAY).reached_on == TODAY + timedelta(days=92)

    def test_a_pace_that_makes_just_the_threshold_in_a_year_never_passes_it(self):
        # 9,100.00 in 91 days are 36,500.00 in 365; the 366th day is no longer of the year ahead.
        limit = Threshold(date(2024, 4, 1), 36_500_00, 36_000_00)
        rows = [Supply(TODAY - timedelta(days=90), 9_100_00)]
        assert vat.turnover(rows, [limit], TODAY).reached_on is None

    def test_what_was_credited_lately_is_no_pace(self):
        rows = [Supply(TODAY - timedelta(days=200), 89_000_00), Supply(TODAY, -1)]
        assert vat.turnover(rows, [UK], TODAY).reached_on is None

    def test_at_the_threshold_any_sale_lately_passes_it_tomorrow_and_without_one_never(self):
        long_ago = TODAY - timedelta(days=91)
        rows = [Supply(long_ago, 89_999_99), Supply(TODAY, 1)]
        assert vat.turnover(rows, [UK], TODAY).reached_on == TODAY + timedelta(days=1)
        assert vat.turnover([Supply(long_ago, 90_000_00)], [UK], TODAY).reached_on is None

    def test_an_old_credit_that_falls_out_of_the_year_brings_the_turnover_back_up(self):
        # Nothing was sold for three months: 94,000.00 less 5,000.00, whose year ends on 10 December.
        rows = [Supply(date(2025, 12, 10), -5_000_00), Supply(date(2026, 6, 1), 94_000_00)]
        assert vat.turnover(rows, [UK], TODAY).reached_on == date(2026, 12, 10)

    def test_the_pace_is_followed_for_365_days_and_no_longer(self):
        # 100.00 a day; the sale of today leaves the year after 366 days, as 2028 has a 29 February.
        today = date(2027, 6, 1)
        last = 9_100_00 + 365 * 100_00
        for register_minor, reached_on in ((last - 1, date(2028, 5, 31)), (last, None)):
            limit = Threshold(date(2024, 4, 1), register_minor, 0)
            found = vat.turnover([Supply(today, 9_100_00)], [limit], today)
            assert found.reached_on == reached_on

    def test_what_is_left_until_the_threshold(self):
        assert vat.turnover([Supply(TODAY, 30_000_00)], [UK], TODAY).left_minor == 60_000_00
        assert vat.turnover([Supply(TODAY, 95_000_00)], [UK], TODAY).left_minor == 0
        assert vat.turnover([Supply(TODAY, 30_000_00)], [], TODAY).left_minor == 0

    def test_a_threshold_holds_from_its_first_day(self):
        new = Threshold(TODAY, 100_00, 90_00)
        found = vat.turnover([Supply(TODAY, 100_01)], [UK, new], TODAY)
        assert (found.threshold, found.level, found.reached_on) == (new, "over", TODAY)

    def test_the_threshold_of_the_day(self):
        later = Threshold(date(2027, 1, 1), 100_00, 90_00)
        assert vat.turnover([], [later, UK], TODAY).threshold == UK
        assert vat.turnover([], [later], TODAY).threshold is None


class TestSlices:
    """A deposit is taxed on the day it came, the rest at the supply (HMRC VATTOS5105)."""

    def test_deposits_first_and_the_rest_at_the_supply(self):
        received = [came(2, 5000), came(1, 3000), came(2, 1000)]
        assert vat.slices(25_000, received, SUPPLY) == [
            (day(1), 3000),
            (day(2), 6000),
            (SUPPLY, 16_000),
        ]

    def test_money_of_the_day_of_supply_and_later_is_taxed_at_the_supply(self):
        received = [vat.Received(SUPPLY, 5000, "cash"), came(1, 1), came(99, 5000)]
        assert vat.slices(25_000, received, SUPPLY) == [(day(1), 1), (SUPPLY, 24_999)]

    def test_money_that_went_back_is_taken_from_the_newest_deposit(self):
        received = [came(1, 3000), came(2, 5000), came(3, -4000)]
        assert vat.slices(25_000, received, SUPPLY) == [
            (day(1), 3000),
            (day(2), 1000),
            (SUPPLY, 21_000),
        ]

    def test_no_more_is_taxed_than_the_total(self):
        assert vat.slices(4000, [came(1, 3000), came(2, 5000)], SUPPLY) == [
            (day(1), 3000),
            (day(2), 1000),
        ]
        assert vat.slices(4000, [came(1, 500), came(2, -900)], SUPPLY) == [(SUPPLY, 4000)]


SUPPLY = date(2026, 6, 20)


def day(number):
    return date(2026, 6, 1) + timedelta(days=number)


def came(number, minor):
    return vat.Received(day(number), minor, "transfer")


class TestTaxes:
    """20 % inside 25,200 is 4,200, inside 5,000 it is 833, and the last slice takes the difference."""

    def test_each_rate_adds_up_and_its_last_slice_takes_the_difference(self):
        points = [vat.TaxPoint(day(n), 333, Decimal(20)) for n in (1, 2, 3)]
        (tax,) = vat.taxes(points)
        assert (tax.percent, tax.net_minor, tax.vat_minor, tax.gross_minor) == (20, 832, 167, 999)
        assert tax.points == [(day(1), 333, 56), (day(2), 333, 56), (day(3), 333, 55)]

    def test_the_highest_rate_comes_first_and_what_is_not_taxed_last(self):
        rates = [None, Decimal(0), Decimal(20), Decimal(5)]
        found = vat.taxes([vat.TaxPoint(day(1), 2100, rate) for rate in rates])
        assert [(tax.percent, tax.net_minor, tax.vat_minor) for tax in found] == [
            (20, 1750, 350),
            (5, 2000, 100),
            (0, 2100, 0),
            (None, 2100, 0),
        ]
        assert found[-1].gross_minor == 2100
        assert found[-1].points == [(day(1), 2100, 0)]


class TestNets:
    def test_the_net_is_shared_by_largest_remainder(self):
        # 832 over thirds is 277.33 each: the odd penny goes to the first of equals.
        assert vat.nets([333, 333, 333], 832) == [278, 277, 277]
        # 150 over 100:99 is 75.38 and 74.62: the larger remainder, not the larger line, goes up.
        assert vat.nets([100, 99], 150) == [75, 75]
        # 83 over 10:20:70 is 8.3, 16.6 and 58.1: nor does the smaller line.
        assert vat.nets([10, 20, 70], 83) == [8, 17, 58]

    def test_a_reduction_takes_its_part_below_zero(self):
        assert vat.nets([22_000, -1000], 17_500) == [18_333, -833]

    def test_lines_that_come_to_nothing_share_nothing(self):
        with pytest.raises(ValueError, match="nothing to share by"):
            vat.nets([500, -500], 100)


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
    invoice = invoice_content.invoice("INV-1", _facts(total, slices))
    notes, left = [], total
    for number, part in enumerate(wanted, 1):
        if not 0 < part <= left:
            with pytest.raises(ValueError, match="at most what is left"):
                invoice_content.credit_part(
                    invoice, amount_minor=part, before=notes, **_how(number)
                )
            continue
        notes.append(
            invoice_content.credit_part(invoice, amount_minor=part, before=notes, **_how(number))
        )
        left -= part
    if left:
        notes.append(invoice_content.credit(invoice, before=notes, **_how(99)))
    else:
        with pytest.raises(ValueError, match="Nothing of it is left"):
            invoice_content.credit(invoice, before=notes, **_how(99))
    assert sum(note["total_minor"] for note in notes) == total
    for name in ("net_minor", "vat_minor"):
        assert sum(note.get(name, 0) for note in notes) == invoice.get(name, 0)
    for note in notes:
        assert all(tax["vat_minor"] >= 0 and tax["net_minor"] >= 0 for tax in note.get("taxes", []))
        assert sum(t["gross_minor"] for t in note.get("taxes", [])) in (note["total_minor"], 0)


def _how(number):
    return {"number": f"CRN-{number}", "issued_on": TODAY, "why": "A crack"}


def _facts(total, points):
    seller = invoice_content.Seller(
        "Hollin Casts", "M. Hollin", "4 Kiln Yard", "CF10 9ZZ", "1", "a@example.com"
    )
    return invoice_content.Facts(
        currency="GBP",
        seller=seller,
        customer=invoice_content.Customer("Sam", "9 Quay Row", "CF10 9ZZ"),
        reference="CY8Y-EGPH",
        pieces=[],
        lines=[invoice_content.Sold("Casts", 1, total)],
        received=[],
        tax_points=points,
        issued_on=TODAY,
        supplied_on=TODAY,
        due_on=TODAY,
        payment_words="",
    )
