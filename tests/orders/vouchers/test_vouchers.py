"""Vouchers: a code for the telephone, used in parts, never beyond what they hold."""

import uuid
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from orders.order.totals import balance_of
from orders.payments.actions import reverse_payment
from orders.vouchers.actions import cancel_voucher, pay_by_voucher, sell_voucher
from orders.vouchers.balances import left_on, liability
from orders.vouchers.models import Voucher
from orders.vouchers.voucher_pdf import voucher_card
from studio.stages import ActionRefused
from tests.crowd import at_once

TODAY = timezone.localdate


@pytest.fixture
def sell(unit, press):
    def sold(**facts):
        details = {
            "value_minor": 5000,
            "price_minor": 5000,
            "method": "card",
            "buyer": "Jo Péntek",
            "for_whom": "Ada",
            "words": "",
            "expires_on": TODAY() + timedelta(days=700),
            "taxed_when_sold": False,
        }
        return sell_voucher(unit, facts=details | facts, **press())

    return sold


def use(order, voucher, press, amount_minor=None, code=None):
    return pay_by_voucher(order, code=code or voucher.code, amount_minor=amount_minor, **press())


class TestSelling:
    def test_the_same_key_is_one_voucher(self, unit, sell, press):
        once = press()
        facts = {
            "value_minor": 1,
            "price_minor": 1,
            "method": "cash",
            "buyer": "x",
            "expires_on": TODAY() + timedelta(days=1),
            "taxed_when_sold": False,
        }
        first = sell_voucher(unit, facts=facts, **once)
        assert sell_voucher(unit, facts=facts, **once) == first
        assert unit.vouchers.count() == 1

    @pytest.mark.parametrize(
        ("facts", "words"),
        [
            ({"value_minor": 0, "price_minor": 0}, "what the voucher is worth"),
            ({"price_minor": 5001}, "more than it is worth"),
            ({"expires_on": TODAY()}, "a day to come"),
        ],
    )
    def test_what_cannot_be_is_refused(self, unit, sell, facts, words):
        with pytest.raises(ActionRefused, match=words):
            sell(**facts)
        assert not unit.vouchers.exists()

    def test_one_rate_only_is_taxed_at_the_price_paid(self, unit, vat, sell):
        """[src] VATA 1994 Sch 10B; worth 50.00, sold at 45.00, 20 %: 7.50."""
        vat()
        unit.refresh_from_db()
        sold = sell(price_minor=4500, taxed_when_sold=True)
        assert (sold.vat_minor, sold.vat_percent) == (750, Decimal(20))

    def test_a_trader_who_is_not_registered_owes_none(self, sell):
        assert sell(taxed_when_sold=True).vat_percent is None


class TestUsing:
    def test_as_much_as_both_allow_and_the_rest_later(self, order, sell, press):
        voucher = sell(value_minor=40000, price_minor=40000)
        assert use(order, voucher, press).amount_minor == 32400
        assert left_on(voucher) == 7600
        assert balance_of(order) == 0

    def test_read_over_the_phone(self, order, sell, press):
        voucher = sell()
        heard = voucher.display_code.lower().replace("-", " ").replace("0", "o").replace("1", "l")
        assert use(order, voucher, press, code=heard).voucher == voucher

    def test_a_slip_is_heard(self, order, sell, press):
        code = sell().code
        wrong = code[:-1] + ("7" if code[-1] != "7" else "8")
        with pytest.raises(ActionRefused, match="slip in that voucher code"):
            use(order, None, press, code=wrong)

    def test_not_beyond_what_it_holds_its_day_or_its_end(self, order, sell, press):
        voucher = sell()
        with pytest.raises(ActionRefused, match=r"£50\.00 is left"):
            use(order, voucher, press, 5001)
        use(order, voucher, press)
        with pytest.raises(ActionRefused, match="Nothing is left on this voucher"):
            use(order, voucher, press)
        old = sell()
        Voucher.objects.filter(pk=old.pk).update(
            sold_on=TODAY() - timedelta(days=9), expires_on=TODAY() - timedelta(days=1)
        )
        with pytest.raises(ActionRefused, match="good until"):
            use(order, old, press)
        gone = cancel_voucher(sell(), why="Bought twice.", by=press()["by"], at=press()["at"])
        with pytest.raises(ActionRefused, match="cancelled: Bought twice"):
            use(order, gone, press)
        assert order.payments.count() == 1

    def test_another_studios_code_is_unknown(self, order, sell, press, stranger):
        voucher = sell()
        Voucher.objects.filter(pk=voucher.pk).update(unit=stranger.user.memberships.get().unit)
        with pytest.raises(ActionRefused, match="no voucher of that code"):
            use(order, voucher, press)

    def test_a_reversal_gives_it_back(self, order, sell, press):
        voucher = sell()
        payment = use(order, voucher, press)
        reverse_payment(payment, why="The wrong order.", **press())
        assert left_on(voucher) == 5000
        with pytest.raises(ActionRefused, match="why"):
            cancel_voucher(voucher, why=" ", by=press()["by"], at=press()["at"])
        cancel_voucher(voucher, why="Bought twice.", by=press()["by"], at=press()["at"])

    def test_a_used_one_is_not_cancelled(self, order, sell, press):
        voucher = sell()
        use(order, voucher, press, 100)
        with pytest.raises(ActionRefused, match="Something was paid"):
            cancel_voucher(voucher, why="x", by=press()["by"], at=press()["at"])

    @pytest.mark.django_db(transaction=True)
    def test_two_at_once_do_not_spend_it_twice(self, order, sell, press):
        voucher = sell(value_minor=10000, price_minor=10000)
        said = []

        def spend():
            try:
                use(order, voucher, press, 8000)
            except ActionRefused as refused:
                said.append(str(refused))

        at_once(spend, spend)
        assert left_on(voucher) == 2000
        assert len(said) == 1


class TestPages:
    def test_sold_used_and_listed(self, owner, unit, order):
        owner.post(
            reverse("orders:sell_voucher"),
            {
                "key": uuid.uuid4(),
                "value_minor": "50.00",
                "buyer": "Jo",
                "method": "cash",
                "expires_on": TODAY() + timedelta(days=300),
            },
        )
        voucher = unit.vouchers.get()
        assert voucher.price_minor == 5000
        url = reverse("orders:pay_by_voucher", args=[order.job.reference])
        wrong = owner.post(url, {"key": uuid.uuid4(), "code": "CY8Y-EGPJ"})
        assert wrong.status_code == 409
        owner.post(url, {"key": uuid.uuid4(), "code": voucher.display_code, "amount_minor": "20"})
        assert "£30.00" in owner.get(reverse("orders:vouchers")).content.decode()
        assert "£20.00" in owner.get(voucher.get_absolute_url()).content.decode()

    def test_the_card_tells_no_price(self, sell, tmp_path):
        voucher = sell(price_minor=4567)
        file = tmp_path / "card.pdf"
        file.write_bytes(voucher_card(voucher))
        pages = PdfReader(file).pages
        text = pages[0].extract_text()
        assert len(pages) == 1
        assert voucher.display_code in text
        assert "£50.00" in text
        assert "45.67" not in text

    def test_the_liability_is_what_is_still_to_be_worked_for(self, unit, order, sell, press):
        use(order, sell(), press, 2000)
        sell(expires_on=TODAY() + timedelta(days=20))
        gone = sell()
        cancel_voucher(gone, why="x", by=press()["by"], at=press()["at"])
        found = liability(unit, TODAY())
        assert (found.open, found.open_minor, found.ends_soon_minor) == (2, 8000, 5000)
        later = liability(unit, TODAY() + timedelta(days=30))
        assert (later.open_minor, later.run_out_minor) == (3000, 5000)
