"""A voucher that is taxed when it is sold is never taxed again: one sale, through every book.

[src] VATA 1994 Sch 10B: the sale of a voucher for goods of one rate is the supply, at the price paid;
to use it is no further supply. Any other is taxed when it is used. Here: worth 50.00, sold at 45.00 at
20 %, so 7.50 of tax; used on an order of 324.00, of which 274.00 is left to tax: 45.67.
"""

import uuid
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.balances.accounts import account_of
from orders.books import ledger
from orders.books.day_book import day_book
from orders.books.turnover import turnover
from orders.costs.earnings import earned
from orders.invoices import einvoice
from orders.invoices.actions import credit_invoice, issue_invoice
from orders.invoices.batch import to_invoice
from orders.order.actions import add_reduction
from orders.order.totals import balance_of
from orders.order_page import actions as order_page_actions
from orders.payments.actions import pay_back, reverse_payment, take_payment
from orders.payments.models import Payment
from orders.receipts.actions import give_receipt
from orders.royalty.drafts import draft_return
from orders.vouchers.actions import cancel_voucher
from orders.vouchers.balances import left_on, liability
from studio.stages import ActionRefused, Stage
from tests.orders.invoices.test_einvoice import amount
from tests.orders.royalty.test_returns import terms  # noqa: F401 - a fixture
from tests.orders.vouchers.test_vouchers import sell, use  # noqa: F401 - a fixture

TODAY = timezone.localdate


@pytest.fixture
def card(unit, vat, sell):  # noqa: F811
    vat()
    unit.refresh_from_db()
    return sell(price_minor=4500, taxed_when_sold=True)


@pytest.fixture
def paid(order, card, press):
    """The order of 324.00 with 50.00 of the voucher used on it."""
    return use(order, card, press)


def book(unit):
    return day_book(unit, TODAY() - timedelta(days=400), TODAY())


class TestInvoice:
    def test_it_is_less_by_the_voucher_and_taxes_the_rest(self, order, paid, press):
        invoice = issue_invoice(order, **press())
        content = invoice.content
        assert (invoice.total_minor, invoice.vat_minor) == (27400, 4567)
        assert content["lines"][-1]["gross_minor"] == -5000
        assert content["lines"][-1]["label"].startswith(
            f"Voucher {paid.voucher.display_code}, taxed"
        )
        assert content["payments"] == []
        assert content["balance_minor"] == 27400
        assert balance_of(order) == 27400

    def test_a_voucher_of_several_rates_is_taxed_when_it_is_used(self, order, vat, sell, press):  # noqa: F811
        vat()
        use(order, sell(), press)
        invoice = issue_invoice(order, **press())
        assert (invoice.total_minor, invoice.vat_minor) == (32400, 5400)
        assert invoice.content["paid_minor"] == 5000

    def test_its_data_hold_the_voucher_as_an_allowance_and_no_prepayment(self, order, paid, press):
        """Valid by schema and rules: the kinds of test_einvoice.py hold such a paper."""
        xml = einvoice.xml(issue_invoice(order, **press()).content)
        assert amount(xml, "AllowanceTotalAmount") == [Decimal("41.67")]
        assert amount(xml, "GrandTotalAmount") == [Decimal("274.00")]
        assert amount(xml, "TotalPrepaidAmount") == []

    def test_one_sold_before_the_registration_stays_untaxed(self, order, sell, press, vat):  # noqa: F811
        card = sell(taxed_when_sold=True)
        use(order, card, press)
        vat(on=TODAY())
        content = issue_invoice(order, **press()).content
        assert content["total_minor"] == 27400
        assert "charged when it was sold" in content["lines"][-1]["label"]

    def test_not_while_an_invoice_taxes_it_all(self, order, card, press):
        issue_invoice(order, **press())
        with pytest.raises(ActionRefused, match="Issue a credit note for it first"):
            use(order, card, press)
        assert not order.payments.exists()

    def test_its_use_is_not_reversed_under_an_invoice(self, order, paid, press):
        invoice = issue_invoice(order, **press())
        with pytest.raises(ActionRefused, match="credit note"):
            reverse_payment(paid, why="The wrong order.", **press())
        credit_invoice(invoice, why="The wrong voucher.", **press())
        reverse_payment(paid, why="The wrong order.", **press())
        assert issue_invoice(order, **press()).total_minor == 32400

    def test_where_it_pays_for_all_nothing_is_left_to_invoice(self, owner, order, sell, vat, press):  # noqa: F811
        vat()
        use(order, sell(value_minor=40000, price_minor=40000, taxed_when_sold=True), press)
        with pytest.raises(ActionRefused, match="nothing is left to invoice"):
            issue_invoice(order, **press())
        page = owner.get(reverse("orders:order", args=[order.job.reference])).content.decode()
        assert "pay for all of it" in page
        order.job.__class__.objects.filter(pk=order.job_id).update(
            stage=Stage.READY, stage_since=timezone.now()
        )
        assert not to_invoice(order.unit, TODAY()).exists()

    def test_nor_where_it_pays_for_more(self, order, sell, vat, press):  # noqa: F811
        vat()
        use(order, sell(value_minor=40000, price_minor=40000, taxed_when_sold=True), press)
        add_reduction(order, label="A friend", amount_minor=1000, **press())
        with pytest.raises(ActionRefused, match="more than the order comes to"):
            issue_invoice(order, **press())

    def test_no_receipt_for_it(self, paid, press):
        with pytest.raises(ActionRefused, match="no money came in"):
            give_receipt(paid, **press())


class TestBooks:
    def test_tax_once_and_the_sums_meet(self, unit, order, paid, press):
        issue_invoice(order, **press())
        found = book(unit)
        assert found.sums.off_by_minor == 0
        assert sum(entry.vat_minor for entry in found.entries) == 750 + 4567
        assert found.balances == {order.job.display_reference: 27400}
        assert [e.amount_minor for e in found.entries if e.kind == ledger.TAXED_VOUCHER_USED] == [
            5000
        ]

    def test_the_familys_account_says_the_same(self, order, paid, press):
        issue_invoice(order, **press())
        account = account_of(order.job.family)
        assert account.balance_minor == balance_of(order) == 27400

    def test_what_is_left_and_that_it_is_taxed(self, unit, order, card, press):
        use(order, card, press, 2000)
        found = liability(unit, TODAY())
        assert (found.open_minor, found.taxed_minor) == (3000, 3000)

    def test_its_sale_is_the_turnover(self, unit, order, paid, press):
        issue_invoice(order, **press())
        assert turnover(unit, TODAY()).total_minor == (4500 - 750) + (27400 - 4567)

    def test_what_the_job_earns_is_what_was_paid(self, order, paid, press):
        issue_invoice(order, **press())
        assert earned(order.job).net_minor == (4500 - 750) + (27400 - 4567)

    @pytest.mark.parametrize("voucher_at", ["sale", "use"])
    @pytest.mark.parametrize("basis", ["invoiced", "received"])
    def test_the_royalty_counts_it_once(
        self,
        unit,
        order,
        card,
        press,
        terms,  # noqa: F811
        basis,
        voucher_at,
    ):
        terms(basis=basis, voucher_at=voucher_at)
        for minor in (1999, 3001):
            use(order, card, press, minor)
        take_payment(order, amount_minor=27400, method="card", received_on=TODAY(), **press())
        issue_invoice(order, **press())
        due = draft_return(unit, TODAY()).due
        assert (due.gross_minor, due.vat_inside_minor) == (4500 + 27400, 750 + 4567)

    def test_taken_back_it_leaves_nothing(self, unit, card, press, terms):  # noqa: F811
        terms(voucher_at="sale")
        cancel_voucher(card, why="Bought twice.", by=press()["by"], at=press()["at"])
        found = book(unit)
        assert (found.sums.off_by_minor, found.balances) == (0, {})
        assert sum(entry.vat_minor for entry in found.entries) == 0
        assert turnover(unit, TODAY()).total_minor == 0
        assert draft_return(unit, TODAY()).due.net_minor == 0


class TestBack:
    def test_a_job_called_off_gives_the_voucher_back(self, order, paid, card, press):
        call_off(order, 0, press)
        assert left_on(card) == 5000
        assert balance_of(order) == 0

    def test_what_is_kept_beyond_the_money_stays_on_it(self, unit, order, paid, card, press):
        take_payment(order, amount_minor=1000, method="cash", received_on=TODAY(), **press())
        call_off(order, 3000, press)
        assert left_on(card) == 3000
        assert balance_of(order) == 0
        invoice = issue_invoice(order, **press())
        assert (invoice.total_minor, invoice.content["balance_minor"]) == (1000, 0)
        assert book(unit).sums.off_by_minor == 0

    def test_money_of_a_voucher_is_not_paid_out(self, order, sell, vat, press):  # noqa: F811
        vat()
        use(order, sell(value_minor=40000, price_minor=40000, taxed_when_sold=True), press)
        add_reduction(order, label="A friend", amount_minor=1000, **press())
        with pytest.raises(ActionRefused, match="the rest by voucher"):
            pay_back(
                order, amount_minor=1000, method="cash", paid_on=TODAY(), why="Back.", **press()
            )
        assert Payment.objects.count() == 1


def call_off(order, keep_minor, press):
    order_page_actions.call_off(
        order.job, seen=Stage.BOOKED, keep_minor=keep_minor, why="They moved away.", **press()
    )


def test_the_form_offers_it_and_remembers(owner, unit, sell):  # noqa: F811
    url = reverse("orders:sell_voucher")
    facts = {
        "value_minor": "50.00",
        "buyer": "Jo",
        "method": "cash",
        "expires_on": TODAY() + timedelta(days=300),
    }
    owner.post(url, facts | {"key": uuid.uuid4(), "taxed_when_sold": "on"})
    assert unit.vouchers.get().taxed_when_sold
    assert "checked" in owner.get(url).content.decode()
    page = owner.get(unit.vouchers.get().get_absolute_url()).content.decode()
    assert "you were not registered then" in page
