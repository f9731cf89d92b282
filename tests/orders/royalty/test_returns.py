"""The royalty return: each paper in one of them, frozen when sent, corrected by the next."""

import io
import uuid
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from orders.invoices.actions import credit_invoice, issue_invoice
from orders.payments.actions import take_payment
from orders.royalty import return_pdf
from orders.royalty.actions import send_return, set_royalty_terms
from orders.royalty.drafts import draft_return
from orders.royalty.models import RoyaltyReturn
from orders.vouchers.actions import pay_by_voucher
from studio.stages import ActionRefused
from tests.orders.vouchers.test_vouchers import sell  # noqa: F401 - a fixture

TERMS = {
    "royalty_percent": Decimal(8),
    "levy_percent": Decimal(2),
    "minimum_minor": 0,
    "vat_percent": None,
    "basis": "invoiced",
    "voucher_at": "use",
    "every_months": 1,
}


@pytest.fixture
def terms(unit):
    def agree(**facts):
        begun = timezone.localdate().replace(day=1)
        return set_royalty_terms(unit, facts={"valid_from": begun} | TERMS | facts)

    return agree


def next_month():
    return (timezone.now().replace(day=1) + timedelta(days=40)).replace(day=3)


def send(unit, by, at=None):
    at = at or next_month()
    draft = draft_return(unit, timezone.localdate(at))
    return send_return(unit, last_on=draft.last_on, by=by, at=at)


def test_an_invoice_and_its_credit_count_each_in_its_period(unit, order, by, press, terms):
    terms()
    invoice = issue_invoice(order, **press())
    sent = send(unit, by)
    assert (sent.content["net_minor"], sent.payable_minor) == (32400, 3240)
    credit_invoice(invoice, why="Wrong name.", **press() | {"at": next_month()})
    second = draft_return(unit, timezone.localdate(next_month()))
    assert (second.first_on, second.due.payable_minor) == (sent.last_on + timedelta(days=1), -3240)


def test_a_paper_that_came_too_late_stands_in_the_next(unit, order, by, press, terms):
    terms(basis="received")
    today = timezone.localdate()
    send(unit, by)
    take_payment(order, amount_minor=1000, method="cash", received_on=today, **press())
    late = draft_return(unit, timezone.localdate(next_month()))
    assert [(taking.on, taking.net_minor) for taking in late.late] == [(today, 1000)]


def test_a_voucher_counts_once_at_its_sale(unit, order, press, terms, sell):  # noqa: F811
    terms(voucher_at="sale")
    pay_by_voucher(order, code=sell().code, amount_minor=None, **press())
    issue_invoice(order, **press())
    draft = draft_return(unit, timezone.localdate())
    assert draft.due.net_minor == 32400  # the invoice, the voucher sold, less the voucher used


@pytest.mark.parametrize(("voucher_at", "net_minor"), [("sale", 5000), ("use", 2000)])
def test_a_voucher_counts_once_by_receipts(unit, order, press, terms, sell, voucher_at, net_minor):  # noqa: F811
    terms(basis="received", voucher_at=voucher_at)
    pay_by_voucher(order, code=sell().code, amount_minor=2000, **press())
    assert draft_return(unit, timezone.localdate()).due.net_minor == net_minor


def test_what_came_after_the_registration_ended_holds_no_tax(unit, order, press, terms, vat):
    vat()
    terms(basis="received")
    today = timezone.localdate()
    take_payment(order, amount_minor=12000, method="cash", received_on=today, **press())
    assert draft_return(unit, today).due.net_minor == 10000
    unit.vat_left_on = today
    unit.save()
    assert draft_return(unit, today).due.net_minor == 12000


def test_a_registered_unit_without_a_rate_for_a_day_is_told(unit, order, press, terms, owner, vat):
    """No rate is no rate of nothing: the royalty would be charged on the VAT as well."""
    vat()
    unit.vat_rates.all().delete()
    terms(basis="received")
    today = timezone.localdate()
    assert draft_return(unit, today).due.net_minor == 0, "nothing came: no rate is needed"
    take_payment(order, amount_minor=12000, method="cash", received_on=today, **press())
    with pytest.raises(ActionRefused, match="No rate of VAT"):
        draft_return(unit, today)
    page = owner.get(reverse("orders:royalty"))
    assert page.status_code == 200
    assert "No rate of VAT" in page.content.decode()


@pytest.mark.parametrize("voucher_at", ["sale", "use"])
def test_a_voucher_of_a_day_without_a_rate_is_told(
    unit,
    order,
    press,
    terms,
    sell,  # noqa: F811
    vat,
    voucher_at,
):
    terms(basis="received", voucher_at=voucher_at)
    pay_by_voucher(order, code=sell().code, amount_minor=2000, **press())
    vat()
    unit.vat_rates.all().delete()
    with pytest.raises(ActionRefused, match="No rate of VAT"):
        draft_return(unit, timezone.localdate())


def test_a_day_before_the_terms_needs_no_rate(unit, order, press, terms, vat):
    vat()
    unit.vat_rates.all().update(valid_from=timezone.localdate())
    terms(basis="received")
    yesterday = timezone.localdate().replace(day=1) - timedelta(days=1)
    take_payment(order, amount_minor=12000, method="cash", received_on=yesterday, **press())
    assert draft_return(unit, timezone.localdate()).due.net_minor == 0


def test_it_is_sent_once_after_its_days_and_never_edited(unit, by, at, terms):
    terms()
    with pytest.raises(ActionRefused, match="can be sent from"):
        send(unit, by, at)
    sent = send(unit, by)
    assert send_return(unit, last_on=sent.last_on, by=by, at=next_month()) == sent
    with pytest.raises(TypeError, match="never edited"):
        sent.save()
    with pytest.raises(TypeError, match="never deleted"):
        sent.delete()


def test_no_terms_no_return_and_none_within_a_sent_one(unit, by, at, terms):
    with pytest.raises(ActionRefused, match="No royalty terms"):
        send_return(unit, last_on=timezone.localdate(at), by=by, at=at)
    terms()
    send(unit, by)
    with pytest.raises(ActionRefused, match="choose a later day"):
        terms(royalty_percent=Decimal(9))


def test_another_period_than_the_next_is_told(unit, by, terms):
    terms()
    with pytest.raises(ActionRefused, match="The next return ends on"):
        send_return(unit, last_on=timezone.localdate() - timedelta(days=99), by=by, at=next_month())


def test_the_owner_sends_it_from_the_page(owner, unit, terms):
    terms(valid_from=(timezone.localdate().replace(day=1) - timedelta(days=20)).replace(day=1))
    page = owner.get(reverse("orders:royalty")).content.decode()
    assert "Send this return" in page
    draft = draft_return(unit, timezone.localdate())
    owner.post(reverse("orders:send_return"), {"last_on": draft.last_on.isoformat()})
    assert RoyaltyReturn.objects.get().last_on == draft.last_on
    assert owner.post(reverse("orders:send_return")).status_code == 409


def test_terms_are_written_down_on_their_page(owner, unit):
    url = reverse("orders:set_royalty_terms")
    assert owner.post(url, {"royalty_percent": "101"}).status_code == 422
    facts = {
        "valid_from": "2026-11-01",
        "royalty_percent": "7.5",
        "levy_percent": "1",
        "basis": "invoiced",
        "voucher_at": "use",
        "every_months": "3",
        "key": uuid.uuid4(),
    }
    owner.post(url, facts)
    assert unit.royalty_terms.get().every_months == 3


def test_the_paper_of_the_least_royalty_adds_up(unit, order, by, press, terms):
    """8 % of 324.00 is 25.92, the least 50.00: so 24.08 more, and a levy of 6.48."""
    terms(minimum_minor=5000)
    issue_invoice(order, **press())
    pages = PdfReader(io.BytesIO(return_pdf.royalty_return(send(unit, by)))).pages
    text = " ".join(page.extract_text() for page in pages)
    for amount in ("£25.92", "£24.08", "£6.48", "£56.48"):
        assert amount in text
    assert "of an earlier period" not in text
