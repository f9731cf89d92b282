"""Stock valuation by lots, first in first out, without rounding losses.

A lot has a quantity left and a value left. A withdrawal takes its proportional share of the value, rounded half up; the
last withdrawal takes the rest. So the values of all movements of a lot and its remaining value always add up to its
cost. Money in minor units.
"""

from collections.abc import Sequence


def first_in_first_out(left: Sequence[int], wanted: int) -> tuple[list[int], int]:
    """Divide a withdrawal among lots, the oldest first; return the part of each lot and the missing quantity.

    `left`: quantities left in base units, the oldest lot first. Raises ValueError for negative quantities.
    """
    if wanted < 0 or any(each < 0 for each in left):
        raise ValueError("A store neither holds nor gives less than nothing.")
    parts, missing = [], wanted
    for each in left:
        parts.append(min(each, missing))
        missing -= parts[-1]
    return parts, missing


def value_of_part(quantity: int, whole_quantity: int, whole_minor: int) -> int:
    """Share of `whole_minor` that belongs to `quantity` out of `whole_quantity`, rounded half up.

    The whole quantity has the whole value. Raises ValueError for more than the whole or negative figures.
    """
    if not 0 <= quantity <= whole_quantity or whole_minor < 0:
        raise ValueError("A part is between nothing and the whole.")
    if whole_quantity == 0:
        return 0
    return (2 * whole_minor * quantity + whole_quantity) // (2 * whole_quantity)


def value_at_lot_price(quantity: int, lot_quantity: int, lot_minor: int) -> int:
    """Value of `quantity` (found in a stock count) at the price of a lot, rounded half up.

    Raises ValueError for an empty lot or negative figures.
    """
    if quantity < 0 or lot_quantity <= 0 or lot_minor < 0:
        raise ValueError("Only a real lot has a price.")
    return (2 * lot_minor * quantity + lot_quantity) // (2 * lot_quantity)


def reusable_quantity(used: int, percent: int, returned: int) -> int:
    """Quantity that can be returned to stock of what was `used`: `percent` of it, less what was `returned` already."""
    return max(used * percent // 100 - returned, 0)
