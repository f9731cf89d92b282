"""Price lists and rates of VAT: dated, and fixed once they are used."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.invoices.actions import issue_invoice
from orders.prices.actions import (
    add_price,
    change_price,
    drop_price,
    drop_price_list,
    make_price_list,
    set_vat_rate,
)
from orders.prices.models import Price, PriceList
from studio.stages import ActionRefused
from tests import makers

SINGLE = {
    "kind": "casts",
    "label": "Single cast",
    "amount_minor": 9900,
    "pieces": 1,
    "one_child": False,
}


@pytest.fixture
def prices(unit):
    return makers.prices(unit)


def test_the_newest_list_that_has_begun_is_in_force(unit):
    made = [make_price_list(unit, valid_from=date(year, 1, 1)) for year in (2024, 2026, 2025)]
    assert unit.price_lists.in_force_on(date(2023, 12, 31)) is None
    assert unit.price_lists.in_force_on(date(2025, 6, 1)) == made[2]
    assert unit.price_lists.in_force_on(date(2026, 1, 1)) == made[1]


def test_a_new_list_begins_with_the_prices_of_another(unit, prices):
    made = make_price_list(unit, valid_from=date(2027, 1, 1), copy_of=prices)
    facts = ("kind", "label", "amount_minor", "pieces", "one_child", "order")
    assert list(made.prices.values(*facts)) == list(prices.prices.values(*facts))
    assert made.prices.count() == 8


def test_two_lists_of_one_day_are_refused(unit, prices):
    with pytest.raises(ActionRefused, match="exists already"):
        make_price_list(unit, valid_from=prices.valid_from)


def test_an_unused_list_may_be_mended(unit, prices):
    price = prices.prices.get(label="Limed oak")
    change_price(price, facts={"kind": "finish", "label": "Limed oak", "amount_minor": 1})
    drop_price(prices.prices.get(label="Waxed oak"))
    added = add_price(prices, facts=SINGLE)
    assert prices.prices.get(label="Limed oak").amount_minor == 1
    assert not prices.prices.filter(label="Waxed oak").exists()
    assert added.order == 8


@pytest.mark.parametrize(
    "edit",
    [
        lambda prices, one: add_price(prices, facts=SINGLE),
        lambda prices, one: change_price(one, facts=SINGLE),
        lambda prices, one: drop_price(one),
        lambda prices, one: drop_price_list(prices),
    ],
    ids=["add", "change", "drop", "drop the list"],
)
def test_a_used_list_is_fixed(order, edit):
    prices = order.price_list
    before = list(prices.prices.values())
    with pytest.raises(ActionRefused, match="Make a new list from a later day"):
        edit(prices, prices.prices.first())
    assert list(PriceList.objects.get(pk=prices.pk).prices.values()) == before


def test_one_label_stands_once_in_its_kind(prices):
    facts = SINGLE | {"label": "Pair of casts, framed"}
    with pytest.raises(ActionRefused, match="on this list already"):
        add_price(prices, facts=facts)


def test_a_rate_may_be_mended_until_an_invoice_used_it(unit, order, vat, press):
    vat("17.5")
    set_vat_rate(unit, valid_from=date(2011, 1, 4), percent=Decimal(20))
    assert unit.vat_rates.get().percent == 20
    invoice = issue_invoice(order, **press())
    with pytest.raises(ActionRefused, match=invoice.number):
        set_vat_rate(unit, valid_from=date(2011, 1, 4), percent=Decimal(15))
    set_vat_rate(unit, valid_from=timezone.localdate() + timedelta(days=1), percent=Decimal(15))
    assert [rate.percent for rate in unit.vat_rates.all()] == [15, 20]


class TestPages:
    def test_a_first_list_is_made_and_filled_by_the_owner(self, unit, owner):
        asked = owner.get(reverse("orders:make_price_list")).context["form"]
        assert asked["valid_from"].value() == timezone.localdate()
        owner.post(reverse("orders:make_price_list"), {"valid_from": "2026-01-01"})
        made = unit.price_lists.get()
        page = owner.get(reverse("orders:price_list", args=[made.pk]))
        assert "Nothing is on this list yet" in page.content.decode()
        answer = owner.post(
            reverse("orders:add_price", args=[made.pk]),
            {"kind": "casts", "label": "Pair", "amount_minor": "£199.00", "pieces": "2"},
        )
        assert answer.status_code == 302
        price = made.prices.get()
        assert (price.amount_minor, price.pieces, price.one_child) == (19900, 2, False)

    def test_casts_without_a_number_come_back_with_a_sentence(self, unit, owner, prices):
        answer = owner.post(
            reverse("orders:add_price", args=[prices.pk]),
            {"kind": "casts", "label": "Trio", "amount_minor": "85,00"},
        )
        assert answer.status_code == 422
        text = answer.content.decode()
        assert "Write how many casts this price is for." in text
        assert "Type an amount of money, like £85.00." in text
        assert 'value="Trio"' in text
        assert prices.prices.count() == 8

    def test_a_backing_has_no_pieces_whatever_was_typed(self, owner, prices):
        owner.post(
            reverse("orders:add_price", args=[prices.pk]),
            {
                "kind": "backing",
                "label": "Grey wool",
                "amount_minor": "0",
                "pieces": "3",
                "one_child": "on",
            },
        )
        added = prices.prices.get(label="Grey wool")
        assert (added.pieces, added.one_child, added.amount_minor) == (0, False, 0)

    def test_the_page_says_which_list_is_in_force_and_which_is_used(self, order, owner):
        make_price_list(order.unit, valid_from=date(2100, 1, 1), copy_of=order.price_list)
        text = owner.get(reverse("orders:prices")).content.decode()
        assert "in force" in text
        assert "still to come" in text
        assert "orders were priced on it" in text

    def test_a_used_list_offers_no_edit_and_a_stale_press_is_told(self, order, owner):
        prices = order.price_list
        page = owner.get(reverse("orders:price_list", args=[prices.pk])).content.decode()
        assert "Make a new list" in page
        assert "Drop" not in page
        answer = owner.post(reverse("orders:drop_price", args=[prices.prices.first().pk]))
        assert answer.status_code == 409
        assert "Make a new list from a later day" in answer.content.decode()

    @pytest.mark.parametrize(
        ("name", "of"),
        [
            ("prices", None),
            ("price_list", PriceList),
            ("make_price_list", None),
            ("add_price", PriceList),
            ("change_price", Price),
            ("set_vat_rate", None),
        ],
    )
    def test_helpers_are_kept_out_and_strangers_find_nothing(
        self, prices, helper, stranger, name, of
    ):
        url = reverse(f"orders:{name}", args=[of.objects.first().pk] if of else [])
        assert helper.get(url).status_code == 403
        assert stranger.get(url).status_code == (404 if of else 200)

    def test_constant_queries(self, unit, owner, prices, constant_queries):
        def grow():
            for year in range(2030, 2040):
                make_price_list(unit, valid_from=date(year, 1, 1), copy_of=prices)

        constant_queries(lambda: owner.get(reverse("orders:prices")), grow)
