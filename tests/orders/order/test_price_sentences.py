"""The sentences that explain a price: as they read, and as they were kept before they became facts."""

import importlib
from functools import partial

import pytest

from orders.order import price_explanations
from orders.prices import pricing
from orders.prices.pricing import Offer
from studio import money

LIST = [
    Offer("one", "One piece", 1, 8500),
    Offer("pair", "A pair", 2, 15000, one_child=True),
    Offer("set", "Two hands, two feet", 4, 26000, one_child=True),
    Offer("siblings", "Siblings, four pieces", 4, 27000),
]

BANDS = [pricing.Band(300, 1500), pricing.Band(450, 2200)]


class TestHow:
    def say(self, minor):
        return money.display(minor, "GBP")

    def test_five_pieces_of_two_children(self):
        family = {"Ada": 4, "Ben": 1}
        chosen = pricing.cheapest(family, LIST)
        told = price_explanations.explain_casts(
            family, LIST, chosen, pricing.laid_out(family, chosen)
        )
        assert {
            code: price_explanations.sentences(facts, format_money=self.say)
            for code, facts in told.items()
        } == {
            "one": [
                "1 of Ben: £85.00.",
                (
                    "5 single casts would be £425.00; the cheapest lawful mix of this list is £345.00, "
                    "£80.00 less."
                ),
            ],
            "set": ["4 of Ada: £260.00."],
        }

    def test_siblings_share_an_offer(self):
        family = {"Ada": 3, "Ben": 1}
        chosen = pricing.cheapest(family, LIST)
        told = price_explanations.explain_casts(
            family, LIST, chosen, pricing.laid_out(family, chosen)
        )
        assert (
            price_explanations.sentences(told["siblings"], format_money=self.say)[0]
            == "3 of Ada and 1 of Ben: £270.00."
        )

    def test_steps_and_discounts(self):
        def words(facts):
            return price_explanations.sentences(facts, format_money=self.say)

        assert words(price_explanations.explain_bands(BANDS, 305, "mm")) == [
            "305 mm: the step up to 450 mm."
        ]
        assert words(price_explanations.explain_bands(BANDS, None, "mm"))[0].startswith(
            "The size is not known yet"
        )
        assert price_explanations.explain_bands([], 305, "mm") == []
        assert words(price_explanations.explain_discount(20000, "10", "returning")) == [
            "10 % of £200.00, to the penny.",
            "This family has had casts before.",
        ]


old = importlib.import_module("orders.migrations.0010_prices_say_how_in_facts")


@pytest.mark.parametrize(
    "sentence",
    [
        "1 of Ben: £85.00.",
        "3 of Ada and 1 of Ben: £1,270.00.",
        "2 of Ada, 1 of Mary and Tom and 1 of Ben: £270.00.",
        "5 single casts would be £425.00; the cheapest lawful mix of this list is £345.00, £80.00 less.",
        "The size is not known yet: this is the price until then.",
        "400 mm: the step up to 450 mm.",
        "7.5 % of £199.00, to the penny.",
        "This family asked at a fair.",
    ],
)
def test_a_sentence_of_before_becomes_facts_and_reads_as_before(sentence):
    fact = old.read_sentence(sentence)
    assert fact["of"] != "typed"
    assert price_explanations.sentences(
        [fact], format_money=partial(money.display, currency="GBP")
    ) == [sentence]


def test_another_sentence_of_before_is_kept():
    assert price_explanations.sentences(
        [old.read_sentence("By word of mouth.")], format_money=str
    ) == ["By word of mouth."]
