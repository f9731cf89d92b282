"""Numbers as wet hands bring them in."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.number_parsing import parse_number


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("412", 412),
        (" 412.5 g", 412.5),
        ("412,5", 412.5),
        ("412g", 412),
        ("1,234", 1234),
        ("1,234.5 g", 1234.5),
        ("1 234", 1234),
        ("four hundred twelve", 412),
        ("Four hundred and twelve grams", 412),
        ("four one two", 412),
        ("four hundred twelve point five", 412.5),
        ("one thousand and five", 1005),
        ("twenty-one", 21),
    ],
)
def test_what_is_meant(written, meant):
    assert parse_number(written) == meant


@pytest.mark.parametrize("written", ["", "g", "a lot", "four hundred cats", "12..5"])
def test_what_is_no_number(written):
    with pytest.raises(ValueError, match=r"."):
        parse_number(written)


@given(st.floats(0.1, 49_999, allow_nan=False).map(lambda mass: round(mass, 1)))
def test_every_weight_comes_back_with_comma_or_point(mass_g):
    assert math.isclose(parse_number(f"{mass_g} g"), mass_g)
    assert math.isclose(parse_number(str(mass_g).replace(".", ",") + "g"), mass_g)
