"""What a line of the statement pays: by reference before amount and name, with the reason said."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.bank.bank_files import Line
from orders.bank.matching import Owing, propose, references_in
from orders.payments.payment_references import creditor_reference
from studio import references

ADA = Owing(1, "CY8YEGPH", 32400, 8100, ("Okafor", "Sam Okafor"), ("INV-0007",))

TOM = Owing(2, "00000011", 32400, 0, ("Péntek", "Jo Péntek"), ("INV-0008",))

MIA = Owing(3, "00000022", 5000, 0, ("Okafor", "Bo Okafor"))

BOOK = [ADA, TOM, MIA]


def first(words="", *, minor=32400, name=""):
    line = Line(date(2026, 11, 2), minor, words, name)
    return propose([line], BOOK)[0]


def test_the_references_used_here_are_real():
    for owing in (ADA, TOM, MIA):
        assert references.normalise(owing.reference) == owing.reference


@pytest.mark.parametrize(
    "words",
    [
        "CY8Y-EGPH",
        "cy8y egph thanks",
        "ref CY8YEGPH",
        f"{creditor_reference('CY8YEGPH')}",
        "INV-0007",
        "inv 0007",
    ],
)
def test_a_reference_decides_whatever_the_amount(words):
    (found,) = first(words, minor=100, name="Somebody Else")
    assert (found.key, found.strength) == (1, 3)
    assert "a part of what is left" in found.why


def test_a_creditor_reference_in_fours_as_banks_print_it():
    whole = creditor_reference("CY8YEGPH")
    assert first(" ".join(whole[i : i + 4] for i in range(0, 12, 4)))[0].key == 1


def test_a_slip_in_a_reference_is_not_believed():
    assert references_in("CY8Y-EGPJ RF99CY8YEGPH") == [
        "CY8YEGPH"
    ]  # the bare one inside has its own check
    assert references_in("CY8Y-EGPJ") == []


def test_amount_and_name():
    (found,) = first(name="MR J PENTEK")
    assert (found.key, found.strength) == (2, 2)
    assert found.why == "The amount and the name agree. It is all that is left to pay."


def test_the_deposit_counts_as_an_amount():
    (found,) = first(minor=8100, name="OKAFOR S")
    assert (found.key, found.strength) == (1, 2)
    assert "the deposit" in found.why


def test_alone_they_are_weak_and_several():
    assert {(p.key, p.strength) for p in first()} == {(1, 1), (2, 1)}
    assert {p.key for p in first(minor=77, name="okafor")} == {1, 3}


def test_more_than_is_left_is_said_and_does_not_fit():
    (found,) = first("0000-0022", minor=5001)
    assert not found.fits
    assert "more than is left to pay" in found.why


def test_what_went_out_pays_nothing():
    assert first("CY8Y-EGPH", minor=-32400) == []


@given(st.text(max_size=80), st.integers(-50_000, 50_000), st.text(max_size=30))
def test_whatever_a_payer_writes_a_proposal_is_true(words, minor, name):
    for found in first(words, minor=minor, name=name):
        order = next(each for each in BOOK if each.key == found.key)
        assert found.fits == (minor <= order.balance_minor)
        assert found.strength in (1, 2, 3)


def test_ten_thousand_lines_find_their_own():
    real = [each for each in map(_reference, range(600)) if each[-1] in references.SYMBOLS][:500]
    book = [Owing(n, each, 10000 + n, 0, (f"Name{n}",)) for n, each in enumerate(real)]
    lines = [Line(date(2026, 11, 2), 1, f"pay {real[n % 500]}") for n in range(10_000)]
    assert [found[0].key for found in propose(lines, book)] == [n % 500 for n in range(10_000)]


def _reference(number):
    body = "".join(references.SYMBOLS[number // 32**place % 32] for place in range(6, -1, -1))
    return body + references.check_symbol(body)
