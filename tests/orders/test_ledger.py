"""The books reconcile to zero, whatever happened; no cell runs in a spreadsheet."""

import csv
import io
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders import ledger
from orders.ledger import BACK, CREDIT, INVOICE, PAYMENT, Entry, reconcile

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


class TestCsv:
    @pytest.mark.parametrize("text", ["=1+1", "+44", "-x", "@a", "\tx", "\rx", "  =1"])
    def test_a_formula_is_quoted(self, text):
        assert ledger.safe_cell(text).startswith("'")

    def test_numbers_stay_numbers(self):
        assert ledger.safe_cell(Decimal("-5.00")) == "-5.00"
        assert ledger.safe_cell(-5) == "-5"

    @given(st.lists(st.text(max_size=20), min_size=1, max_size=5))
    def test_any_words_come_back_as_one_row(self, cells):
        text = ledger.as_csv(["h"] * len(cells), [cells])
        rows = list(csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline="")))
        assert len(rows) == 2
        assert rows[1] == [ledger.safe_cell(cell) for cell in cells]
        assert not any(cell.startswith(ledger.FORMULA_SIGNS) for cell in rows[1])

    def test_amounts_have_the_places_of_their_currency(self):
        assert str(ledger.amount(8500, "GBP")) == "85.00"
        assert str(ledger.amount(8500, "JPY")) == "8500"
