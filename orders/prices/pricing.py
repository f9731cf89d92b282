"""Price an order: the lowest exact price of its pieces, bands by size or distance, discounts; pure."""

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
    """A price of the list: a number of pieces for an amount; `one_child` means all of the same
    child.
    """

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
    """An offer and its quantity."""

    offer: Offer
    quantity: int


@dataclass(frozen=True, slots=True)
class Taken:
    """One use of an offer and the number of pieces it covers of each child."""

    offer: Offer
    pieces: Mapping[Hashable, int]


@dataclass(frozen=True, slots=True)
class Band:
    """A band of a price: up to a frame's longest side in mm, or a distance in km."""

    up_to: int
    price_minor: int


class _Cover(NamedTuple):
    """A way to cover pieces; compared by price, then number of offers, then the later in the list."""

    price_minor: int
    quantity: int
    counts: tuple[int, ...]

    def joined(self, other: "_Cover") -> "_Cover":
        counts = tuple(a + b for a, b in zip(self.counts, other.counts, strict=True))
        return _Cover(self.price_minor + other.price_minor, self.quantity + other.quantity, counts)


def cheapest(
    pieces_by_child: Mapping[Hashable, int], offers: Sequence[Offer]
) -> tuple[Chosen, ...]:
    """Return the offers with the lowest price that cover every piece exactly; a true minimum.

    A set of four is never sold for three pieces, even if cheaper, because the owner would owe a
    fourth piece. Of choices at the same price it takes the fewest lines, then the fewest offers, then
    those later in `offers`; () for no pieces. Cost: about children times pieces² steps for each set
    of offers tried, smallest sets first.

    Raises ValueError with a sentence if the offers cannot cover the pieces exactly.
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
    """Assign pieces to each use of the chosen offers: offers for one child first, largest first.

    Raises ValueError if they do not cover the pieces exactly.
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
    """Return the price at a size, in minor units: that of the smallest band that holds it.

    It is `price_minor` without bands or with `size` None. Raises ValueError with a sentence beyond
    the last band.
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
    """Return what each discount takes off, in minor units (zero or more), in their order.

    A rule is a percentage of the whole base, rounded half up (never one upon another), or an amount
    if the percentage is None. Together with `already_minor`, the reductions already given, they
    never exceed the base.
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
    """Return the smallest set of offers that still reaches the best price, and its cover."""
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
    """Return the cheapest exact cover of children with these piece counts, or None.

    Each child gives some pieces to offers for one child; the rest of all children together goes to
    the offers that mix children.
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
    """Return for 0 to `most` pieces the cheapest way to make up exactly that number."""
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
    """Return for each bag the child whose free pieces fill it, or None if not all can be filled."""

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
    """Take `wanted` pieces out of `left`, child by child."""
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
