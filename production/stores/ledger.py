"""How a quantity is taken from lots, and what it was worth: nothing is lost, no penny and no gram.

A lot has a quantity left and the money that is still tied up in it. What is taken carries off its
share of that money, rounded once, half up; who takes the last takes the rest. So the money of all
moves of a lot and what is left in it always add up to what it cost.
"""

from collections.abc import Sequence


def first_in_first_out(left: Sequence[int], wanted: int) -> tuple[list[int], int]:
    """What to take of each lot, the oldest first, and how much is not there.

    `left` in base units, oldest lot first. Raises ValueError for a quantity below zero.
    """
    if wanted < 0 or any(each < 0 for each in left):
        raise ValueError("A store neither holds nor gives less than nothing.")
    parts, still = [], wanted
    for each in left:
        parts.append(min(each, still))
        still -= parts[-1]
    return parts, still


def worth(quantity: int, of_quantity: int, of_minor: int) -> int:
    """The share of `of_minor` that goes with `quantity` of `of_quantity`, half up.

    All of it with all of the quantity. Raises ValueError for more than there is.
    """
    if not 0 <= quantity <= of_quantity or of_minor < 0:
        raise ValueError("A part is between nothing and the whole.")
    if of_quantity == 0:
        return 0
    return (2 * of_minor * quantity + of_quantity) // (2 * of_quantity)


def valued_at(quantity: int, lot_quantity: int, lot_minor: int) -> int:
    """What `quantity` would have cost at the price of a lot, half up: of something that was found."""
    if quantity < 0 or lot_quantity <= 0 or lot_minor < 0:
        raise ValueError("Only a real lot has a price.")
    return (2 * lot_minor * quantity + lot_quantity) // (2 * lot_quantity)


def comes_back(used: int, percent: int, returned: int) -> int:
    """How much of what was used goes back on the shelf, `returned` of it having gone already."""
    return max(used * percent // 100 - returned, 0)
