"""Prices of an order: the cheapest way to cover its pieces, and net, VAT and gross of its lines."""

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import combinations
from typing import NamedTuple

from studio import money

MOST_PIECES = 200


@dataclass(frozen=True, slots=True)
class Offer:
    """A line of the price list: so many pieces for a price. `one_child`: all of them of the same child."""

    code: str
    label: str
    pieces: int
    price_minor: int
    one_child: bool = False

    def __post_init__(self) -> None:
        if self.pieces < 1:
            raise ValueError("An offer must hold at least one piece.")
        if self.price_minor < 0:
            raise ValueError("The price of an offer cannot be below zero.")


@dataclass(frozen=True, slots=True)
class Chosen:
    """An offer and how many times it is taken."""

    offer: Offer
    quantity: int


@dataclass(frozen=True, slots=True)
class Line:
    """A priced line; `unit_minor` includes VAT and is below zero for a reduction."""

    label: str
    quantity: int
    unit_minor: int


@dataclass(frozen=True, slots=True)
class Totals:
    """`net_minor` + `vat_minor` = `gross_minor`, to the penny."""

    net_minor: int
    vat_minor: int
    gross_minor: int


class _Cover(NamedTuple):
    """A way to cover some pieces. Compared in this order: cheaper, then fewer offers, then the earlier in the list."""

    price_minor: int
    quantity: int
    counts: tuple[int, ...]

    def joined(self, other: "_Cover") -> "_Cover":
        counts = tuple(a + b for a, b in zip(self.counts, other.counts, strict=True))
        return _Cover(self.price_minor + other.price_minor, self.quantity + other.quantity, counts)


def cheapest(
    pieces_by_child: Mapping[Hashable, int], offers: Sequence[Offer]
) -> tuple[Chosen, ...]:
    """The cheapest choice of offers that covers every piece exactly; the true minimum.

    Exactly: a set of four is never sold for three pieces, even where it would be cheaper, because
    the owner would owe a fourth piece. Of choices at the same price, the one with the fewest lines;
    then the fewest offers. In the order of `offers`; empty for no pieces. Cost: about children
    times pieces² small steps for each set of offers tried, the smallest sets first.
    Raises ValueError with a sentence where the offers cannot cover the pieces exactly.
    """
    counts = sorted(pieces_by_child.values())
    if counts and counts[0] < 0:
        raise ValueError("The pieces of a child cannot be below zero.")
    if sum(counts) > MOST_PIECES:
        raise ValueError(f"An order holds at most {MOST_PIECES} pieces.")
    if sum(counts) == 0:
        return ()
    best = _cover(counts, offers)
    if best is None:
        raise ValueError(
            f"The price list cannot make up {_pieces(sum(counts))} exactly: "
            "add a price for a single piece, or choose other pieces."
        )
    chosen, cover = _fewest_lines(counts, offers, best)
    return tuple(Chosen(*pair) for pair in zip(chosen, cover.counts, strict=True) if pair[1])


def totals(lines: Iterable[Line], vat_percent: Decimal | None) -> Totals:
    """Add up lines whose prices include VAT; None for a trader who is not registered.

    The VAT is rounded once, half up, on the total (HMRC VATREC12020); net is the rest.
    """
    gross_minor = sum(line.quantity * line.unit_minor for line in lines)
    vat_minor = 0 if vat_percent is None else money.vat_inside(gross_minor, vat_percent)
    return Totals(gross_minor - vat_minor, vat_minor, gross_minor)


def _fewest_lines(
    counts: Sequence[int], offers: Sequence[Offer], best: _Cover
) -> tuple[Sequence[Offer], _Cover]:
    """The smallest set of offers that still reaches the best price, and its cover."""
    lines = sum(1 for count in best.counts if count)
    for size in range(1, lines):
        covers = (
            (some, cover)
            for some in combinations(offers, size)
            if (cover := _cover(counts, some)) and cover.price_minor == best.price_minor
        )
        if found := min(covers, key=lambda pair: pair[1][:2], default=None):
            return found
    return offers, best


def _cover(counts: Sequence[int], offers: Sequence[Offer]) -> _Cover | None:
    """The cheapest exact cover of children with these piece counts, or None.

    Each child gives some pieces to offers for one child; what is left of all children together
    goes to the open offers, which do not ask whose pieces they are.
    """
    nothing = _Cover(0, 0, (0,) * len(offers))
    alone = _fillings(max(counts), [(i, o) for i, o in enumerate(offers) if o.one_child], nothing)
    together = _fillings(
        sum(counts), [(i, o) for i, o in enumerate(offers) if not o.one_child], nothing
    )
    by_left: dict[int, _Cover] = {0: nothing}
    for count in counts:
        by_left = _with_child(by_left, count, alone)
    ways = [cover.joined(rest) for left, cover in by_left.items() if (rest := together[left])]
    return min(ways, default=None)


def _with_child(
    by_left: Mapping[int, _Cover], count: int, alone: Sequence[_Cover | None]
) -> dict[int, _Cover]:
    after: dict[int, _Cover] = {}
    for left, cover in by_left.items():
        for taken in range(count + 1):
            if filling := alone[taken]:
                way, key = cover.joined(filling), left + count - taken
                after[key] = min(after.get(key, way), way)
    return after


def _fillings(
    most: int, offers: Sequence[tuple[int, Offer]], nothing: _Cover
) -> list[_Cover | None]:
    """For 0 to `most` pieces, the cheapest way to make up exactly so many from these offers."""
    best: list[_Cover | None] = [nothing]
    for pieces in range(1, most + 1):
        ways = [
            before.joined(_once(i, offer, nothing))
            for i, offer in offers
            if offer.pieces <= pieces and (before := best[pieces - offer.pieces])
        ]
        best.append(min(ways, default=None))
    return best


def _once(i: int, offer: Offer, nothing: _Cover) -> _Cover:
    counts = (*nothing.counts[:i], 1, *nothing.counts[i + 1 :])
    return _Cover(offer.price_minor, 1, counts)


def _pieces(number: int) -> str:
    return "1 piece" if number == 1 else f"{number} pieces"
