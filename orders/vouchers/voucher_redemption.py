"""What the uses of a voucher come to of the price that was paid for it; pure.

A voucher that can only buy goods of one rate is taxed when it is sold, at the price paid; using it is no
further supply. Any other is taxed when it is used (VATA 1994 Sch 10B [src]), here at its worth: where it
was sold for less, that is never too little.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from studio.money import round_half_up


@dataclass(frozen=True, slots=True)
class Sold:
    """A voucher as it was sold, in minor units; `vat_minor` is the tax of that day, inside the price."""

    value_minor: int
    price_minor: int
    vat_minor: int

    def __post_init__(self) -> None:
        if not 0 <= self.vat_minor <= self.price_minor <= self.value_minor or not self.value_minor:
            raise ValueError(
                "A voucher is worth something, its price at most that, its tax inside."
            )


@dataclass(frozen=True, slots=True)
class Part:
    """What one use was of the price that was paid, and of the tax inside it."""

    price_minor: int
    vat_minor: int


def parts(sold: Sold, used: Iterable[int]) -> list[Part]:
    """The part of each use, in their order; a use that was taken back is below zero.

    The parts of a voucher used up are its price and its tax to the penny: each use takes what is
    reckoned of all so far (half up) less what was reckoned before it.
    Raises ValueError where more is used than it is worth, or less than nothing.
    """
    so_far, before, found = 0, Part(0, 0), []
    for minor in used:
        so_far += minor
        if not 0 <= so_far <= sold.value_minor:
            raise ValueError("More was used of the voucher than it is worth.")
        now = Part(_of(sold.price_minor, so_far, sold), _of(sold.vat_minor, so_far, sold))
        found.append(Part(now.price_minor - before.price_minor, now.vat_minor - before.vat_minor))
        before = now
    return found


def _of(minor: int, used_minor: int, sold: Sold) -> int:
    return round_half_up(Decimal(minor * used_minor) / sold.value_minor)
