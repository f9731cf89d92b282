"""Formatting and parsing of stock quantities: whole grams, millimetres, square millimetres or pieces.

A number without a unit is in the base unit, so that the reading of a scale or a ruler can be typed as it is.
"""

import re
from decimal import ROUND_HALF_UP, Decimal

from studio import units

MM_PER_M = 1000

MM2_PER_M2 = 1_000_000

MM2_PER_CM2 = 100

MAX_QUANTITY = 1_000_000_000

_FACTORS: dict[str, dict[str, int]] = {
    "g": {"": 1, "g": 1, "kg": 1000},
    "mm": {"": 1, "mm": 1, "cm": 10, "m": MM_PER_M},
    "mm2": {"": 1, "mm2": 1, "cm2": MM2_PER_CM2, "m2": MM2_PER_M2},
    "piece": {"": 1, "pieces": 1, "piece": 1},
}

_EXAMPLES = {
    "g": "850 g or 12.5 kg",
    "mm": "740 mm or 2.4 m",
    "mm2": "900 cm² or 0.75 m²",
    "piece": "12",
}

_INPUT = re.compile(r"([0-9]+(?:[.,][0-9]+)?)\s*([a-z]*2?)", re.ASCII)


def display(quantity: int, measure: str) -> str:
    """Format a quantity for display: `12500, "g"` is "12.50 kg"; lengths in mm or m, areas in cm² or m²."""
    if measure == "g":
        return units.kg(quantity)
    if measure == "mm":
        return f"{quantity} mm" if abs(quantity) < MM_PER_M else f"{_divide(quantity, MM_PER_M)} m"
    if measure == "mm2":
        if abs(quantity) < MM2_PER_M2 // 100:
            return f"{_divide(quantity, MM2_PER_CM2, '1')} cm²"
        return f"{_divide(quantity, MM2_PER_M2)} m²"
    return str(quantity)


def input_value(quantity: int, measure: str) -> str:
    """Format a quantity exactly, for an input field: "25 kg", "25300 g"; `parse` returns the same quantity."""
    for unit, factor in sorted(_FACTORS[measure].items(), key=lambda each: -each[1]):
        if unit and quantity and quantity % factor == 0:
            return f"{quantity // factor} {unit}".replace("m2", "m²")
    return str(quantity)


def example(measure: str) -> str:
    """Example of an input for help texts and errors: "850 g or 12.5 kg"."""
    return _EXAMPLES[measure]


def parse(text: str, measure: str, pack: int = 0) -> int:
    """Parse an input to base units: "12.5 kg", "538", and "2 packs" if the size of a `pack` is given.

    Raises ValueError with a sentence that says what to type.
    """
    match = _INPUT.fullmatch(text.strip().lower().replace("²", "2"))
    factors = _FACTORS[measure] | ({"pack": pack, "packs": pack} if pack else {})
    if match is None or match[2] not in factors:
        packs = " or 2 packs" if pack else ""
        raise ValueError(f"Write an amount like {example(measure)}{packs}.")
    exact = Decimal(match[1].replace(",", ".")) * factors[match[2]]
    if exact > MAX_QUANTITY:
        raise ValueError("That is more than any store holds: check the amount and its unit.")
    if exact != exact.to_integral_value():
        raise ValueError(f"Write whole {_whole(measure)}: {example(measure)}.")
    return int(exact)


def _whole(measure: str) -> str:
    return {"g": "grams", "mm": "millimetres", "mm2": "square millimetres"}.get(measure, "pieces")


def _divide(quantity: int, factor: int, step: str = "0.01") -> Decimal:
    return (Decimal(quantity) / factor).quantize(Decimal(step), ROUND_HALF_UP)
