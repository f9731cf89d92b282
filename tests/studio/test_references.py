"""Job references: drawn, read back from what people say, and refused with a sentence."""

import secrets

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio import references

BODIES = st.text(references.SYMBOLS, min_size=7, max_size=7)
DRAWN = st.randoms(use_true_random=False).map(
    lambda random: references.new_reference(random.choice)
)


@given(DRAWN)
def test_a_drawn_reference_has_eight_ordinary_symbols_and_reads_back(reference):
    assert len(reference) == 8
    assert reference.isalnum()
    assert not set(reference) & set("ILOU")
    assert references.normalise(reference) == reference
    assert references.normalise(references.display(reference)) == reference
    assert references.normalise(f" {references.display(reference).lower()} ") == reference


def test_a_body_whose_check_symbol_is_not_ordinary_is_drawn_again():
    choices = iter("000000*"[:6] + "Z" + "CY8YEGP")  # 31 has the check symbol Z: kept
    assert references.new_reference(lambda _: next(choices)) == "000000ZZ"
    # 34 = "12" has "$", which nobody can say: the next seven symbols are taken.
    again = iter("0000012" + "CY8YEGP")
    assert references.new_reference(lambda _: next(again)) == "CY8YEGPH"


def test_chance_comes_from_the_secret_source():
    assert len({references.new_reference(secrets.choice) for _ in range(200)}) == 200


@given(DRAWN)
def test_letters_that_look_like_digits_are_read_as_digits(reference):
    misread = reference.replace("1", "I", 1).replace("1", "l").replace("0", "o")
    assert references.normalise(misread) == reference


@given(DRAWN, st.integers(0, 7), st.sampled_from(references.SYMBOLS))
def test_one_wrong_symbol_is_always_noticed(reference, place, symbol):
    wrong = reference[:place] + symbol + reference[place + 1 :]
    if wrong != reference:
        with pytest.raises(ValueError, match="slip"):
            references.normalise(wrong)


@given(DRAWN, st.integers(0, 6))
def test_two_neighbours_swapped_are_always_noticed(reference, place):
    a, b = reference[place], reference[place + 1]
    if a != b:
        with pytest.raises(ValueError, match="slip"):
            references.normalise(reference[:place] + b + a + reference[place + 2 :])


@given(BODIES)
def test_the_check_symbol_is_the_number_modulo_37(body):
    number = sum(
        references.SYMBOLS.index(symbol) * 32**power for power, symbol in enumerate(reversed(body))
    )
    assert references.check_symbol(body) == (references.SYMBOLS + "*~$=U")[number % 37]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "has 8 letters and digits"),
        ("CY8Y-EGP", "has 8 letters and digits"),
        ("CY8Y-EGPHH", "has 8 letters and digits"),
        ("CY8Y-EGPU", "never holds “U”"),
        ("CY8Y/EGP", "never holds “/”"),
        ("CY8Y-EGPé", "never holds “É”"),
        ("CY8Y-EGPJ", "slip in that reference"),
    ],
)
def test_what_is_no_reference_is_refused_with_a_sentence(text, sentence):
    with pytest.raises(ValueError, match=sentence):
        references.normalise(text)
