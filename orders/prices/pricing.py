"""Prices of an order: the cheapest way to cover its pieces, steps by size or distance, discounts; pure."""

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
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
class Taken:
    """One offer and whose pieces it covers: how many of each child."""

    offer: Offer
    pieces: Mapping[Hashable, int]


@dataclass(frozen=True, slots=True)
class Band:
    """A step of a price: up to so many mm of a frame's longest side, or km of the way."""

    up_to: int
    price_minor: int


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


def laid_out(
    pieces_by_child: Mapping[Hashable, int], chosen: Sequence[Chosen]
) -> tuple[Taken, ...]:
    """Whose pieces each of the chosen offers covers: offers for one child first, the largest first.

    Raises ValueError where they do not cover the pieces exactly.
    """
    children = list(pieces_by_child)
    each = [one.offer for one in chosen for _ in range(one.quantity)]
    alone = sorted((o for o in each if o.one_child), key=lambda o: -o.pieces)
    together = sorted((o for o in each if not o.one_child), key=lambda o: -o.pieces)
    counts = tuple(pieces_by_child.values())
    places = _places(tuple(o.pieces for o in alone), counts)
    if places is None or sum(o.pieces for o in each) != sum(counts):
        raise ValueError("These offers do not cover the pieces exactly.")
    left = dict(pieces_by_child)
    taken = []
    for offer, place in zip(alone, places, strict=True):
        left[children[place]] -= offer.pieces
        taken.append(Taken(offer, {children[place]: offer.pieces}))
    return (*taken, *(Taken(offer, _next_pieces(left, offer.pieces)) for offer in together))


def in_bands(price_minor: int, bands: Sequence[Band], size: int | None) -> int:
    """What something costs at a size: the step that just holds it; without steps, or while the size
    is not known, `price_minor`.

    Raises ValueError with a sentence beyond the last step.
    """
    if not bands or size is None:
        return price_minor
    steps = sorted(bands, key=lambda band: band.up_to)
    found = next((band for band in steps if size <= band.up_to), None)
    if found is None:
        raise ValueError(f"The price list goes up to {steps[-1].up_to}, and this is {size}.")
    return found.price_minor


def discounts(
    base_minor: int, rules: Iterable[tuple[Decimal | None, int]], *, already_minor: int = 0
) -> list[int]:
    """What each discount takes off, at or above zero, in their order; never more than is left of
    the base after the `already_minor` that was taken off by hand.

    A rule is a percentage of the whole base, half up to the minor unit (never one upon another),
    or, where that is None, an amount.
    """
    left, taken = max(0, base_minor - already_minor), []
    for percent, amount_minor in rules:
        wanted = (
            amount_minor
            if percent is None
            else money.round_half_up(max(0, base_minor) * percent / 100)
        )
        taken.append(min(wanted, left))
        left -= taken[-1]
    return taken


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


def _places(bags: tuple[int, ...], counts: tuple[int, ...]) -> list[int] | None:
    """For each bag the child whose free pieces fill it, or None where they cannot all be filled."""

    @cache
    def fill(place: int, left: tuple[int, ...]) -> tuple[int, ...] | None:
        if place == len(bags):
            return ()
        for child, free in enumerate(left):
            if free < bags[place] or free in left[:child]:  # one like it was tried
                continue
            after = (*left[:child], free - bags[place], *left[child + 1 :])
            if (rest := fill(place + 1, after)) is not None:
                return (child, *rest)
        return None

    found = fill(0, counts)
    return None if found is None else list(found)


def _next_pieces(left: dict[Hashable, int], wanted: int) -> dict[Hashable, int]:
    """Takes `wanted` pieces out of `left`, child by child."""
    taken: dict[Hashable, int] = {}
    for child, free in left.items():
        if some := min(free, wanted):
            taken[child] = some
            wanted -= some
    for child, some in taken.items():
        left[child] -= some
    return taken


def _once(i: int, offer: Offer, nothing: _Cover) -> _Cover:
    counts = (*nothing.counts[:i], 1, *nothing.counts[i + 1 :])
    return _Cover(offer.price_minor, 1, counts)


def _pieces(number: int) -> str:
    return "1 piece" if number == 1 else f"{number} pieces"
