"""Check symbols of job references.

Douglas Crockford, "Base 32" (crockford.com/base32.html): alphabet, check symbol modulo 37, I and L
read as 1, O as 0 [mem]. The example 1234 -> 16J, check D, is worked out by hand: 1234 = 1·32² +
6·32 + 18, and 1234 = 33·37 + 13. Exact, no tolerance.
"""

import pytest

from studio import references


def test_1234_is_16j_with_check_symbol_d():
    number = 1234
    digits = []
    while number:
        number, digit = divmod(number, 32)
        digits.append(references.SYMBOLS[digit])
    assert "".join(reversed(digits)) == "16J"
    assert references.check_symbol("16J") == "D"


def test_a_reference_as_it_is_said():
    assert references.display("CY8YEGPH") == "CY8Y-EGPH"
    assert references.normalise("cy8y-egph") == "CY8YEGPH"
    assert references.check_symbol("CY8YEGP") == "H"


@pytest.mark.parametrize(
    ("number", "check"), [(32, "*"), (33, "~"), (34, "$"), (35, "="), (36, "U")]
)
def test_the_five_symbols_beyond_the_alphabet(number, check):
    body = "1" + references.SYMBOLS[number - 32]
    assert references.check_symbol(body) == check
