"""How a price came about, in sentences for the owner and the family; pure words."""

from collections.abc import Callable, Hashable, Mapping, Sequence

from orders.pricing import Band, Chosen, Offer, Taken

Say = Callable[[int], str]


def of_casts(
    pieces_by_child: Mapping[Hashable, int],
    offers: Sequence[Offer],
    chosen: Sequence[Chosen],
    taken: Sequence[Taken],
    *,
    say: Say,
) -> dict[str, list[str]]:
    """For each chosen offer, by its code: whose pieces it covers; the first says what the mix saves.

    The children are their names.
    """
    told = {
        one.offer.code: [
            f"{_of(each.pieces)}: {say(each.offer.price_minor)}."
            for each in taken
            if each.offer.code == one.offer.code
        ]
        for one in chosen
    }
    if chosen and (words := _saved(pieces_by_child, offers, chosen, say)):
        told[chosen[0].offer.code].append(words)
    return told


def of_bands(price_minor: int, bands: Sequence[Band], size: int | None, unit: str) -> list[str]:
    """By which step of size or distance; nothing for a price without steps."""
    if not bands:
        return []
    if size is None:
        return ["The size is not known yet: this is the price until then."]
    step = next(band for band in sorted(bands, key=lambda b: b.up_to) if size <= band.up_to)
    return [f"{size} {unit}: the step up to {step.up_to} {unit}."]


def of_discount(base_minor: int, percent: str, given: str, *, say: Say) -> list[str]:
    """`percent` "" for a fixed amount; `given`: why the family has it, "" where the owner gave it."""
    said = [f"{percent} % of {say(base_minor)}, to the penny."] if percent else []
    return [*said, given] if given else said


def _of(pieces: Mapping[Hashable, int]) -> str:
    words = [f"{count} of {name}" for name, count in pieces.items()]
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def _saved(
    pieces_by_child: Mapping[Hashable, int],
    offers: Sequence[Offer],
    chosen: Sequence[Chosen],
    say: Say,
) -> str:
    singles = [offer.price_minor for offer in offers if offer.pieces == 1]
    number = sum(pieces_by_child.values())
    total_minor = sum(one.offer.price_minor * one.quantity for one in chosen)
    if not singles or number < 2 or (one_by_one := number * min(singles)) <= total_minor:  # noqa: PLR2004
        return ""
    return (
        f"{number} single casts would be {say(one_by_one)}; the cheapest lawful mix of this list is "
        f"{say(total_minor)}, {say(one_by_one - total_minor)} less."
    )
