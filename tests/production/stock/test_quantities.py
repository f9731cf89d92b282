"""Quantities as people say and type them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.stock import quantities


@pytest.mark.parametrize(
    ("quantity", "measure", "said"),
    [
        (269, "g", "269 g"),
        (12_500, "g", "12.50 kg"),
        (-538, "g", "-538 g"),
        (740, "mm", "740 mm"),
        (1303, "mm", "1.30 m"),
        (750_000, "mm2", "0.75 m²"),
        (9_000, "mm2", "90 cm²"),
        (12, "piece", "12"),
    ],
)
def test_said(quantity, measure, said):
    assert quantities.display(quantity, measure) == said


@pytest.mark.parametrize(
    ("text", "measure", "quantity"),
    [
        ("538", "g", 538),
        (" 12.5 kg ", "g", 12_500),
        ("12,5KG", "g", 12_500),
        ("2 packs", "g", 50_000),
        ("1 pack", "g", 25_000),
        ("2.4 m", "mm", 2400),
        ("74 cm", "mm", 740),
        ("0.75 m²", "mm2", 750_000),
        ("900 cm2", "mm2", 90_000),
        ("12", "piece", 12),
        ("3 pieces", "piece", 3),
    ],
)
def test_read(text, measure, quantity):
    assert quantities.parse(text, measure, pack=25_000) == quantity


@pytest.mark.parametrize(
    ("text", "measure", "sentence"),
    [
        ("", "g", "850 g or 12.5 kg"),
        ("-3", "g", "Write an amount"),
        ("three", "piece", "Write an amount like 12"),
        ("3 kg", "piece", "Write an amount like 12"),
        ("0.5", "g", "whole grams"),
        ("0.5", "piece", "whole pieces"),
        ("2000000 kg", "g", "more than any store holds"),
        ("2 packs", "g", "Write an amount"),
    ],
)
def test_not_read(text, measure, sentence):
    with pytest.raises(ValueError, match=sentence):
        quantities.parse(text, measure)


@given(st.integers(0, quantities.MAX_QUANTITY), st.sampled_from(["g", "mm", "mm2", "piece"]))
def test_a_bare_number_is_read_in_the_base_unit(quantity, measure):
    assert quantities.parse(str(quantity), measure) == quantity


@given(st.integers(0, quantities.MAX_QUANTITY), st.sampled_from(["g", "mm", "mm2", "piece"]))
def test_what_a_form_shows_is_read_back_to_the_last_unit(quantity, measure):
    assert quantities.parse(quantities.input_value(quantity, measure), measure) == quantity


def test_a_form_shows_the_largest_unit_that_is_whole():
    assert quantities.input_value(25_000, "g") == "25 kg"
    assert quantities.input_value(25_300, "g") == "25300 g"
    assert quantities.input_value(2400, "mm") == "240 cm"
    assert quantities.input_value(750_000, "mm2") == "7500 cm²"


@given(st.text(max_size=20), st.sampled_from(["g", "mm", "mm2", "piece"]))
def test_whatever_is_typed_is_read_or_told(text, measure):
    try:
        read = quantities.parse(text, measure, pack=7)
    except ValueError:
        return
    assert 0 <= read <= quantities.MAX_QUANTITY


@given(st.integers(0, 10**6), st.sampled_from(["g", "mm", "piece"]))
def test_what_is_said_is_read_back_nearly(quantity, measure):
    back = quantities.parse(quantities.display(quantity, measure), measure)
    assert abs(back - quantity) <= 5
