"""The part of a voucher's price and tax that each use redeems; pure.

A voucher for goods of one rate is taxed when sold, at the price paid; using it is no further
supply. Any other is taxed when used (VATA 1994 Sch 10B [src]), here at its value: if it was sold
for less, that is never too little.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from studio.money import round_half_up


@dataclass(frozen=True, slots=True)
class Sold:
    """A voucher as sold, in minor units; `vat_minor` is the tax included in the price."""

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
    """The part of one use in the voucher's price and in the tax included, in minor units."""

    price_minor: int
    vat_minor: int


def parts(sold: Sold, used: Iterable[int]) -> list[Part]:
    """Return the part of each use, in their order. `used`: minor units of value, below zero if returned.

    Each part is the share of all uses so far, rounded half up, less the earlier parts, so that the
    parts of a used-up voucher add up exactly. Raises ValueError if more than its value, or less
    than nothing, is used.
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
