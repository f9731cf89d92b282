"""The cheapest choice of offers against brute force, steps and discounts."""

from collections import Counter
from decimal import Decimal
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.prices import pricing
from orders.prices.pricing import Chosen, Offer

ONE = Offer("one", "One piece", 1, 8500)

PAIR = Offer("pair", "A pair", 2, 15000, one_child=True)

SET = Offer("set", "Two hands, two feet", 4, 26000, one_child=True)

SIBLINGS = Offer("siblings", "Siblings, four pieces", 4, 27000)

LIST = [ONE, PAIR, SET, SIBLINGS]

OFFERS = st.lists(
    st.builds(
        Offer,
        code=st.just("x"),
        label=st.just("x"),
        pieces=st.integers(1, 4),
        price_minor=st.integers(0, 12).map(lambda pounds: pounds * 100),
        one_child=st.booleans(),
    ),
    max_size=4,
)

FAMILIES = st.lists(st.integers(0, 3), max_size=3)


def brute_force(counts, offers):
    """Cheapest exact cover by trying every offer on every possible split of its pieces; None if there is none."""

    @cache
    def least(left):
        if not any(left):
            return 0
        ways = [
            offer.price_minor + rest
            for offer in offers
            for after in _after(left, offer)
            if (rest := least(after)) is not None
        ]
        return min(ways, default=None)

    return least(tuple(counts))


def _after(left, offer):
    if offer.one_child:
        return [
            (*left[:i], count - offer.pieces, *left[i + 1 :])
            for i, count in enumerate(left)
            if count >= offer.pieces
        ]
    return _taken_from_any(left, offer.pieces)


def _taken_from_any(left, pieces):
    if not left:
        return [()] if pieces == 0 else []
    return [
        (left[0] - taken, *rest)
        for taken in range(min(left[0], pieces) + 1)
        for rest in _taken_from_any(left[1:], pieces - taken)
    ]


def fewest_lines(counts, offers, price_minor):
    """Lines of the best cover by trying every subset of the offers."""
    subsets = sorted(
        ([o for i, o in enumerate(offers) if mask >> i & 1] for mask in range(2 ** len(offers))),
        key=len,
    )
    return next(len(some) for some in subsets if brute_force(counts, some) == price_minor)


def price(chosen):
    return sum(one.offer.price_minor * one.quantity for one in chosen)


@given(FAMILIES, OFFERS)
def test_the_choice_is_the_true_minimum(counts, offers):
    family = dict(enumerate(counts))
    cheapest = brute_force(counts, offers)
    if cheapest is None:
        with pytest.raises(ValueError, match="cannot make up"):
            pricing.cheapest(family, offers)
        return
    chosen = pricing.cheapest(family, offers)
    assert price(chosen) == cheapest
    assert sum(one.offer.pieces * one.quantity for one in chosen) == sum(counts)
    assert all(one.quantity > 0 for one in chosen)
    assert len(chosen) == fewest_lines(counts, offers, cheapest)
    assert can_be_laid_out(counts, chosen)


def can_be_laid_out(counts, chosen):
    """Each offer for one child finds one whose pieces are still free."""
    bags = [one.offer.pieces for one in chosen if one.offer.one_child for _ in range(one.quantity)]

    def fits(left, bags):
        return not bags or any(
            fits([*left[:i], count - bags[0], *left[i + 1 :]], bags[1:])
            for i, count in enumerate(left)
            if count >= bags[0]
        )

    return fits(list(counts), bags)


@given(FAMILIES, OFFERS)
def test_the_order_of_the_children_does_not_matter(counts, offers):
    offers = [*offers, ONE]
    there = pricing.cheapest(dict(enumerate(counts)), offers)
    back = pricing.cheapest(dict(enumerate(reversed(counts))), offers)
    assert there == back


@given(st.lists(st.integers(0, 4), min_size=1, max_size=6))
def test_one_more_offer_never_costs_more(counts):
    family = dict(enumerate(counts))
    prices = [price(pricing.cheapest(family, LIST[:n])) for n in range(1, 5)]
    assert prices == sorted(prices, reverse=True)


@pytest.mark.parametrize(
    ("family", "chosen"),
    [
        ({}, []),
        ({"Ada": 0}, []),
        ({"Ada": 1}, [(ONE, 1)]),
        ({"Ada": 2}, [(PAIR, 1)]),
        ({"Ada": 3}, [(ONE, 1), (PAIR, 1)]),
        ({"Ada": 4}, [(SET, 1)]),
        ({"Ada": 1, "Ben": 1}, [(ONE, 2)]),
        ({"Ada": 2, "Ben": 2}, [(SIBLINGS, 1)]),
        ({"Ada": 3, "Ben": 1}, [(SIBLINGS, 1)]),
        ({"Ada": 4, "Ben": 4}, [(SET, 2)]),
        ({"Ada": 4, "Ben": 2, "Cai": 2}, [(SET, 1), (SIBLINGS, 1)]),
        (dict.fromkeys(range(6), 4), [(SET, 6)]),
    ],
)
def test_a_familys_offers(family, chosen):
    assert pricing.cheapest(family, LIST) == tuple(Chosen(*pair) for pair in chosen)


def test_a_set_of_four_is_never_sold_for_three_pieces():
    cheap_set = Offer("set", "Four", 4, 100)
    assert pricing.cheapest({"Ada": 3}, [ONE, cheap_set]) == (Chosen(ONE, 3),)


def test_at_the_same_price_fewer_lines_then_fewer_offers_win():
    pair = Offer("pair", "A pair", 2, 2 * ONE.price_minor)
    assert pricing.cheapest({"Ada": 3}, [pair, ONE]) == (Chosen(ONE, 3),)
    assert pricing.cheapest({"Ada": 4}, [ONE, pair]) == (Chosen(pair, 2),)
    # Twelve at 10.00 each: 8 + 4 are fewer offers, but of the single lines three fours are the fewest.
    every = [Offer(str(pieces), "x", pieces, 1000 * pieces) for pieces in (2, 3, 4, 8)]
    assert pricing.cheapest({"Ada": 12}, every) == (Chosen(every[2], 3),)


@pytest.mark.parametrize(
    ("family", "offers", "sentence"),
    [
        ({"Ada": 3}, [PAIR], "cannot make up 3 pieces exactly: add a price for a single piece"),
        ({"Ada": 1}, [], "cannot make up 1 piece exactly"),
        ({"Ada": 1, "Ben": 1}, [PAIR], "cannot make up 2 pieces"),
        ({"Ada": -1}, LIST, "below zero"),
        ({"Ada": 201}, LIST, "at most 200 pieces"),
    ],
)
def test_what_cannot_be_covered_is_refused_with_a_sentence(family, offers, sentence):
    with pytest.raises(ValueError, match=sentence):
        pricing.cheapest(family, offers)


def test_an_order_of_two_hundred_pieces_is_priced():
    assert pricing.cheapest({"Ada": 200}, [ONE]) == (Chosen(ONE, 200),)


def test_an_offer_without_pieces_or_below_zero_is_refused():
    with pytest.raises(ValueError, match="at least one piece"):
        Offer("x", "x", 0, 100)
    with pytest.raises(ValueError, match="below zero"):
        Offer("x", "x", 1, -1)


@given(FAMILIES, OFFERS)
def test_the_choice_is_laid_out_over_the_children_to_the_last_piece(counts, offers):
    family = dict(enumerate(counts))
    chosen = pricing.cheapest(family, [*offers, ONE])
    taken = pricing.laid_out(family, chosen)
    covered = Counter()
    for one in taken:
        covered.update(one.pieces)
        assert sum(one.pieces.values()) == one.offer.pieces
        assert not one.offer.one_child or len(one.pieces) == 1
    assert covered == Counter({child: count for child, count in family.items() if count})
    assert Counter(one.offer for one in taken) == {one.offer: one.quantity for one in chosen}


def test_what_does_not_cover_the_pieces_is_no_layout():
    with pytest.raises(ValueError, match="do not cover"):
        pricing.laid_out({"Ada": 3}, [Chosen(SET, 1)])
    with pytest.raises(ValueError, match="do not cover"):
        pricing.laid_out({"Ada": 1, "Ben": 1}, [Chosen(PAIR, 1)])


@pytest.mark.parametrize(
    ("family", "chosen", "covered"),
    [
        ({"Ada": 4, "Ben": 2}, [PAIR, SET], [(SET, {"Ada": 4}), (PAIR, {"Ben": 2})]),
        (
            {"Ada": 3, "Ben": 2},
            [ONE, SIBLINGS],
            [(SIBLINGS, {"Ada": 3, "Ben": 1}), (ONE, {"Ben": 1})],
        ),
        ({"Ada": 1, "Ben": 2}, [ONE, PAIR], [(PAIR, {"Ben": 2}), (ONE, {"Ada": 1})]),
        ({"Ada": 2, "Ben": 1}, [ONE, PAIR], [(PAIR, {"Ada": 2}), (ONE, {"Ben": 1})]),
    ],
)
def test_offers_for_one_child_are_laid_out_first_and_the_largest_before_the_smaller(
    family, chosen, covered
):
    taken = pricing.laid_out(family, [Chosen(offer, 1) for offer in chosen])
    assert [(one.offer, one.pieces) for one in taken] == covered


BANDS = [pricing.Band(300, 1500), pricing.Band(450, 2200)]


@pytest.mark.parametrize(
    ("size", "price_minor"), [(None, 900), (1, 1500), (300, 1500), (301, 2200), (450, 2200)]
)
def test_the_step_that_just_holds_the_size_counts(size, price_minor):
    assert pricing.in_bands(900, BANDS, size) == price_minor
    assert pricing.in_bands(900, BANDS[::-1], size) == price_minor
    assert pricing.in_bands(900, [], size) == 900


def test_beyond_the_last_step_there_is_no_price():
    with pytest.raises(ValueError, match="goes up to 450, and this is 451"):
        pricing.in_bands(900, BANDS, 451)
    with pytest.raises(ValueError, match="goes up to 300, and this is 301"):
        pricing.in_bands(900, BANDS[:1], 301)


RULES = st.lists(
    st.one_of(
        st.tuples(st.none(), st.integers(0, 40_000)),
        st.tuples(st.decimals(Decimal("0.01"), 100, places=2), st.just(0)),
    ),
    max_size=4,
)


@given(st.integers(0, 100_000), RULES, st.integers(0, 50_000))
def test_discounts_never_take_more_than_is_there_and_never_less_than_nothing(
    base_minor, rules, already_minor
):
    taken = pricing.discounts(base_minor, rules, already_minor=already_minor)
    assert len(taken) == len(rules)
    assert min(taken, default=0) >= 0
    assert sum(taken) <= max(0, base_minor - already_minor)


def test_a_discount_is_of_the_whole_price_and_half_a_penny_goes_up():
    # 12.5 % of £1.00 is 12.5 p → 13 p; a second one is not reckoned on the reduced price.
    assert pricing.discounts(100, [(Decimal("12.5"), 0), (Decimal(10), 0)]) == [13, 10]
    assert pricing.discounts(100, [(None, 60), (Decimal(50), 0)]) == [60, 40]


def test_what_was_given_already_leaves_less_or_nothing_to_take_off():
    assert pricing.discounts(100, [(None, 60)], already_minor=70) == [30]
    assert pricing.discounts(100, [(None, 60)], already_minor=100) == [0]
    assert pricing.discounts(100, [(Decimal(50), 0)], already_minor=120) == [0]
