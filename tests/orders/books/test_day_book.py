"""For the accountant: the books of real histories reconcile to zero, and can be taken away."""

import csv
import io
import json
import uuid
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from orders.balances.accounts import account_of
from orders.books import ledger
from orders.books.day_book import day_book, years
from orders.invoices.actions import credit_invoice, credit_part, issue_invoice
from orders.order.totals import current_invoice
from orders.payments.actions import pay_back, reverse_payment, take_payment
from orders.vouchers.actions import cancel_voucher, pay_by_voucher
from studio.stages import Refused
from tests.orders.vouchers.test_vouchers import sell  # noqa: F401 - a fixture

STEPS = ["pay", "pay_much", "reverse", "invoice", "credit", "part", "voucher", "back", "sell"]

STEPS += ["sell_taxed", "cancel"]


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=st.lists(st.tuples(st.sampled_from(STEPS), st.integers(1, 20000)), max_size=12))
def test_any_history_reconciles_to_zero_and_no_number_is_skipped(order, unit, press, sell, steps):  # noqa: F811
    """One order lives through all examples: its books only grow, as a studio's do. What the database
    keeps is held here; thousands of lives of the sums alone are in test_money_lives.py.
    """
    vat_rate_of(unit)
    for step, minor in steps:
        try:
            _do(step, minor, order, unit, press, sell)
        except Refused:
            continue
    today = timezone.localdate()
    book = day_book(unit, today - timedelta(days=400), today)
    assert book.sums.off_by_minor == 0
    account = order.job.display_reference
    invoiced = sum(paper.total_minor for paper in order.invoices.all())
    paid = sum(payment.amount_minor for payment in order.payments.filter(taxed_before=False))
    assert account_of(order.job.family).balance_minor == invoiced - paid
    assert book.balances.get(account, 0) == invoiced - paid
    for voucher in unit.vouchers.not_cancelled().with_left():
        assert book.balances.get(f"voucher {voucher.display_code}", 0) == -voucher.left
    for prefix in ("INV-", "CRN-"):
        numbers = [int(n.number[4:]) for n in unit.invoices.all() if n.number.startswith(prefix)]
        assert sorted(numbers) == list(range(1, len(numbers) + 1))


def vat_rate_of(unit):
    """Registered from the second example on: books that began before it."""
    if unit.vat_registered_on is None and unit.invoices.exists():
        unit.vat_rates.create(valid_from=timezone.localdate() - timedelta(days=900), percent=20)
        unit.vat_number, unit.vat_registered_on = "GB 123 4567 89", timezone.localdate()
        unit.save()


def _do(step, minor, order, unit, press, sell):  # noqa: F811, C901
    today = timezone.localdate()
    money = {"amount_minor": minor, "method": "card"}
    live = order.payments.filter(reverses=None, reversed_by=None, amount_minor__gt=0).last()
    standing = current_invoice(order)
    unused = next((v for v in unit.vouchers.not_cancelled().with_left() if v.left > 0), None)
    if step in ("pay", "pay_much"):
        take_payment(order, **money, received_on=today, above=step == "pay_much", **press())
    elif step == "reverse" and live:
        reverse_payment(live, why="A slip.", **press())
    elif step == "invoice":
        issue_invoice(order, **press())
    elif step == "credit" and standing:
        credit_invoice(standing, why="Anew.", **press())
    elif step == "voucher" and unused:
        pay_by_voucher(order, code=unused.code, amount_minor=None, **press())
    elif step == "back":
        pay_back(order, **money, paid_on=today, why="Too much.", **press())
    elif step == "part" and standing:
        credit_part(standing, amount_minor=minor, why="A crack.", **press())
    elif step in ("sell", "sell_taxed"):
        taxed = step == "sell_taxed"
        sell(value_minor=minor, price_minor=minor // 2, taxed_when_sold=taxed)
    elif step == "cancel" and unused:
        cancel_voucher(unused, why="Back.", by=press()["by"], at=press()["at"])


@pytest.fixture
def year(order, press):
    """An order with an invoice and a payment whose reason looks like a formula."""
    issue_invoice(order, **press())
    payment = take_payment(
        order, amount_minor=8100, method="cash", received_on=timezone.localdate(), **press()
    )
    reverse_payment(payment, why="=1+1", **press())
    return ledger.tax_year(timezone.localdate())[0].year


def test_the_csv_has_every_row_and_no_formula(owner, year):
    response = owner.get(reverse("orders:day_book_csv", args=[year]))
    rows = list(csv.reader(io.StringIO(response.content.decode("utf-8-sig"))))
    assert [row[1] for row in rows[1:4]] == ["invoice", "paid back", "payment"]
    assert rows[2][4] == "81.00"
    assert rows[-1][1:5:3] == ["difference", "0.00"]
    assert not any(cell.startswith("=") for row in rows for cell in row)


def test_the_json_says_the_same(owner, year):
    found = json.loads(owner.get(reverse("orders:day_book_json", args=[year])).content)
    assert found["sums"]["invoices"] == 32400
    assert found["sums"]["difference"] == 0
    assert sum(found["balances_minor"].values()) == found["sums"]["closing balance"] == 32400


def test_the_page_says_that_the_sums_meet(owner, year):
    page = owner.get(reverse("orders:day_book")).content.decode()
    assert "meet the accounts to the penny" in page
    assert owner.get(reverse("orders:day_book_of", args=[year - 1])).status_code == 200
    assert owner.get(reverse("orders:day_book_of", args=[0])).status_code == 404


def test_every_tax_year_with_a_paper_can_be_chosen(unit, order, press):
    today = timezone.localdate()
    take_payment(
        order,
        amount_minor=100,
        method="cash",
        received_on=today - timedelta(days=300),
        **press() | {"key": uuid.uuid4()},
    )
    found = years(unit, today)
    assert found[0] == ledger.tax_year(today)
    assert found[-1] == ledger.tax_year(today - timedelta(days=300))
