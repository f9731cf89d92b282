"""Money: rounding, sharing, reading what people type, and saying it."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio import money

AMOUNTS = st.integers(min_value=-money.LARGEST_MINOR, max_value=money.LARGEST_MINOR)
WEIGHTS = st.lists(st.integers(0, 10**6), min_size=1, max_size=12).filter(any)


@pytest.mark.parametrize(
    ("value", "whole"),
    [("0.5", 1), ("1.5", 2), ("2.5", 3), ("2.49", 2), ("-0.5", -1), ("-2.5", -3), ("-2.49", -2)],
)
def test_halves_go_away_from_zero(value, whole):
    assert money.round_half_up(Decimal(value)) == whole


@pytest.mark.parametrize(
    ("minor", "currency", "text"),
    [
        (8500, "GBP", "£85.00"),
        (-500, "GBP", "-£5.00"),
        (0, "GBP", "£0.00"),
        (125050, "GBP", "£1,250.50"),
        (5, "GBP", "£0.05"),
        (8500, "EUR", "€85.00"),
        (85, "JPY", "JP¥85"),
        (1234, "KWD", "KWD1.234"),
    ],
)
def test_says_money_as_people_read_it(minor, currency, text):
    assert money.display(minor, currency).replace("\N{NO-BREAK SPACE}", "") == text


@pytest.mark.parametrize(
    ("text", "minor"),
    [
        ("85", 8500),
        ("85.00", 8500),
        ("85.5", 8550),
        ("£85.00", 8500),
        ("  £ 85.00 ", 8500),
        ("85 GBP", 8500),
        ("1,250.5", 125050),
        ("1,000,000", 1_000_000_00),
        ("10000000", money.LARGEST_MINOR),
        ("0", 0),
        ("007", 700),
    ],
)
def test_reads_what_people_type(text, minor):
    assert money.parse(text, "GBP") == minor


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("-5", "below zero"),
        ("£-5", "below zero"),
        ("-£5", "below zero"),
        ("\N{MINUS SIGN}5", "below zero"),
        ("85.001", "at most 2 decimals"),
        ("10000000.01", "more than £10,000,000.00"),
        ("9" * 5000, "more than £10,000,000.00"),
        ("85,00", "Type an amount of money, like £85.00."),
        ("1,25.00", "Type an amount"),
        ("", "Type an amount"),
        ("£", "Type an amount"),
        (".", "Type an amount"),
        ("1e3", "Type an amount"),
        ("1_000", "Type an amount"),
        ("٨٥", "Type an amount"),
        ("€85", "Type an amount"),
        ("85 pounds", "Type an amount"),
    ],
)
def test_refuses_what_is_no_amount_with_a_sentence(text, sentence):
    with pytest.raises(ValueError, match=sentence):
        money.parse(text, "GBP")


def test_a_currency_without_decimals_takes_none():
    assert money.parse("85", "JPY") == 85
    with pytest.raises(ValueError, match="no decimals"):
        money.parse("85.0", "JPY")


@given(st.integers(0, money.LARGEST_MINOR), st.sampled_from(["GBP", "EUR", "JPY", "KWD"]))
def test_reads_back_what_it_says(minor, currency):
    assert money.parse(money.display(minor, currency), currency) == minor


@given(AMOUNTS, WEIGHTS)
def test_shares_add_up_and_none_is_off_by_a_whole_unit(total, weights):
    parts = money.share(total, weights)
    assert sum(parts) == total
    for part, weight in zip(parts, weights, strict=True):
        assert abs(part - Fraction(total * weight, sum(weights))) < 1


@given(AMOUNTS, WEIGHTS)
def test_a_negative_total_is_shared_as_the_mirror(total, weights):
    assert money.share(-total, weights) == [-part for part in money.share(total, weights)]


@given(st.integers(0, 10**6), WEIGHTS)
def test_a_larger_weight_never_gets_less_and_equals_favour_the_earlier(total, weights):
    parts = money.share(total, weights)
    for i, one in enumerate(weights):
        for j, other in enumerate(weights):
            if one > other or (one == other and i < j):
                assert parts[i] >= parts[j]


@pytest.mark.parametrize("weights", [[], [0], [0, 0, 0], [3, -1]])
def test_nothing_to_share_by_is_refused(weights):
    with pytest.raises(ValueError, match="zero"):
        money.share(100, weights)


@given(AMOUNTS, st.decimals(0, 100, places=2))
def test_vat_inside_is_the_nearest_penny_and_mirrors(gross, percent):
    vat = money.vat_inside(gross, percent)
    exact = Fraction(gross) * Fraction(percent) / (100 + Fraction(percent))
    assert abs(vat - exact) <= Fraction(1, 2)
    if abs(vat - exact) == Fraction(1, 2):
        assert abs(vat) > abs(exact), "a half goes up"
    assert money.vat_inside(-gross, percent) == -vat


def test_a_negative_rate_is_refused():
    with pytest.raises(ValueError, match="below zero"):
        money.vat_inside(100, Decimal(-1))
