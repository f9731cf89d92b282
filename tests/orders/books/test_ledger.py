"""The books reconcile to zero, whatever happened; no cell runs in a spreadsheet."""

import csv
import io
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.books import ledger
from orders.books.ledger import BACK, CREDIT, INVOICE, PAYMENT, Entry, reconcile
from studio.web.csv_tables import FORMULA_SIGNS, amount, as_csv, safe_cell

FIRST = date(2026, 4, 6)

SIGNS = {INVOICE: 1, CREDIT: -1, PAYMENT: -1, BACK: 1}

entries = st.lists(
    st.tuples(
        st.integers(-200, 500),
        st.sampled_from(sorted(SIGNS)),
        st.sampled_from("abc"),
        st.integers(1, 99999),
    ).map(
        lambda each: Entry(
            FIRST + timedelta(days=each[0]), each[1], "n", each[2], SIGNS[each[1]] * each[3]
        )
    ),
    max_size=60,
)


@given(entries)
def test_any_year_reconciles_to_zero(history):
    first, last = ledger.tax_year(FIRST)
    assert reconcile(history, first=first, last=last).off_by_minor == 0


@given(entries, st.integers(-100, 400))
def test_one_periods_closing_is_the_next_ones_opening(history, days):
    day = FIRST + timedelta(days=days)
    before = reconcile(history, first=FIRST - timedelta(days=300), last=day)
    after = reconcile(history, first=day + timedelta(days=1), last=FIRST + timedelta(days=600))
    assert before.closing_minor == after.opening_minor
    assert sum(ledger.balances(history, day).values()) == before.closing_minor


def test_a_row_of_an_unknown_kind_shows_as_a_difference():
    """The control: the check can fail."""
    odd = Entry(FIRST, "gift", "n", "a", 100)
    assert reconcile([odd], first=FIRST, last=FIRST).off_by_minor == -100


@pytest.mark.parametrize(
    ("day", "year"), [(date(2026, 4, 5), 2025), (date(2026, 4, 6), 2026), (date(2026, 1, 1), 2025)]
)
def test_the_personal_tax_year(day, year):
    assert ledger.tax_year(day) == (date(year, 4, 6), date(year + 1, 4, 5))


def test_a_period_holds_its_first_and_its_last_day():
    rows = [
        Entry(FIRST - timedelta(days=1), INVOICE, "1", "a", 10000),
        Entry(FIRST, INVOICE, "2", "a", 2000),
        Entry(FIRST, CREDIT, "3", "a", -500),
        Entry(FIRST + timedelta(days=1), PAYMENT, "4", "a", -7000),
        Entry(FIRST + timedelta(days=1), BACK, "5", "a", 30),
        Entry(FIRST + timedelta(days=2), INVOICE, "6", "a", 99),
    ]
    assert reconcile(rows, first=FIRST, last=FIRST + timedelta(days=1)) == ledger.Sums(
        opening_minor=10000,
        invoiced_minor=2000,
        credited_minor=500,
        paid_minor=7000,
        back_minor=30,
        vouchers_minor=0,
        closing_minor=4530,
    )


def test_who_owes_what_at_the_end_of_a_day_without_those_who_are_even():
    rows = [
        Entry(FIRST, INVOICE, "1", "a", 500),
        Entry(FIRST, INVOICE, "2", "b", 700),
        Entry(FIRST, PAYMENT, "3", "b", -700),
        Entry(FIRST + timedelta(days=1), PAYMENT, "4", "a", -200),
    ]
    assert ledger.balances(rows, FIRST) == {"a": 500}
    assert ledger.balances(rows, FIRST + timedelta(days=1)) == {"a": 300}


class TestRows:
    """What a payment or a voucher adds to what somebody owes: money in is below zero."""

    @pytest.mark.parametrize(("minor", "kind"), [(1, PAYMENT), (500, PAYMENT), (-1, BACK)])
    def test_a_payment_is_one_row_on_the_familys_account(self, minor, kind):
        (row,) = ledger.of_money(ledger.Money(FIRST, "P1", "CY8Y", minor, "cash"))
        assert (row.on, row.kind, row.number) == (FIRST, kind, "P1")
        assert (row.account, row.amount_minor, row.note) == ("CY8Y", -minor, "cash")

    def test_a_payment_by_voucher_moves_what_is_owed_from_the_voucher_to_the_order(self):
        paid = ledger.Money(FIRST, "P1", "CY8Y", 500, voucher="V7")
        rows = [(r.kind, r.account, r.amount_minor) for r in ledger.of_money(paid)]
        assert rows == [(PAYMENT, "CY8Y", -500), (ledger.VOUCHER_USED, "voucher V7", 500)]

    def test_a_voucher_that_was_taxed_when_sold_pays_no_invoice(self):
        paid = ledger.Money(FIRST, "P1", "CY8Y", 500, voucher="V7", taxed_before=True)
        rows = [(r.kind, r.account, r.amount_minor) for r in ledger.of_money(paid)]
        assert rows == [(ledger.TAXED_VOUCHER_USED, "voucher V7", 500)]

    @pytest.mark.parametrize(("sold", "sign", "kind"), [(True, 1, PAYMENT), (False, -1, BACK)])
    def test_a_voucher_sold_below_its_worth_gives_the_difference_away(self, sold, sign, kind):
        card = ledger.Card(FIRST, "V7", 10000, 8500, vat_minor=1417, note="card", sold=sold)
        bought, given = ledger.of_card(card)
        assert (bought.kind, bought.account, bought.note) == (kind, "voucher V7", "card")
        assert (bought.amount_minor, bought.vat_minor) == (-sign * 8500, sign * 1417)
        assert (given.kind, given.account) == (ledger.VOUCHER_GIVEN, "voucher V7")
        assert (given.amount_minor, given.vat_minor) == (-sign * 1500, 0)

    def test_a_voucher_sold_at_its_worth_gives_nothing_away(self):
        (row,) = ledger.of_card(ledger.Card(FIRST, "V7", 8500, 8500))
        assert (row.kind, row.amount_minor) == (PAYMENT, -8500)
        assert row.vat_minor == 0, "taxed when it is used"

    def test_a_voucher_sold_used_and_given_away_reconciles_and_is_even(self):
        rows = [
            *ledger.of_card(ledger.Card(FIRST, "V7", 10000, 8500)),
            Entry(FIRST, INVOICE, "1", "CY8Y", 10000),
            *ledger.of_money(ledger.Money(FIRST, "P1", "CY8Y", 10000, voucher="V7")),
        ]
        sums = reconcile(rows, first=FIRST, last=FIRST)
        assert (sums.off_by_minor, sums.closing_minor, sums.vouchers_minor) == (0, 0, 8500)
        assert ledger.balances(rows, FIRST) == {}

    def test_a_voucher_taxed_when_it_was_sold_is_worked_off_by_a_smaller_invoice(self):
        rows = [
            *ledger.of_card(ledger.Card(FIRST, "V8", 5000, 5000, vat_minor=833)),
            Entry(FIRST, INVOICE, "1", "CY8Y", 7000),
            *ledger.of_money(
                ledger.Money(FIRST, "P1", "CY8Y", 5000, voucher="V8", taxed_before=True)
            ),
        ]
        sums = reconcile(rows, first=FIRST, last=FIRST)
        assert (sums.off_by_minor, sums.closing_minor, sums.vouchers_minor) == (0, 7000, 5000)
        assert ledger.balances(rows, FIRST) == {"CY8Y": 7000}


class TestCsv:
    @pytest.mark.parametrize("text", ["=1+1", "+44", "-x", "@a", "\tx", "\rx", "  =1"])
    def test_a_formula_is_quoted(self, text):
        assert safe_cell(text).startswith("'")

    def test_numbers_stay_numbers(self):
        assert safe_cell(Decimal("-5.00")) == "-5.00"
        assert safe_cell(-5) == "-5"

    @given(st.lists(st.text(max_size=20), min_size=1, max_size=5))
    def test_any_words_come_back_as_one_row(self, cells):
        text = as_csv(["h"] * len(cells), [cells])
        rows = list(csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline="")))
        assert len(rows) == 2
        assert rows[1] == [safe_cell(cell) for cell in cells]
        assert not any(cell.startswith(FORMULA_SIGNS) for cell in rows[1])

    def test_amounts_have_the_places_of_their_currency(self):
        assert str(amount(8500, "GBP")) == "85.00"
        assert str(amount(8500, "JPY")) == "8500"
