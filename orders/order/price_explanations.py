"""Explanations of prices: stored on an order line as facts, formatted as sentences on display.

A fact is a JSON object whose "of" names its kind; SENTENCES shows the fields of each kind.
"""

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from orders.prices.pricing import Band, Chosen, Offer, Taken
from studio.units import join_names

FormatMoney = Callable[[int], str]

Fact = dict[str, Any]

GIVEN = {
    "returning": gettext_noop("This family has had casts before."),
    "fair": gettext_noop("This family asked at a fair."),
}


def sentences(facts: Iterable[Fact], *, format_money: FormatMoney) -> list[str]:
    """Format the facts as sentences; `format_money` formats minor units."""
    return [SENTENCES[fact["of"]](fact, format_money) for fact in facts]


def explain_casts(
    pieces_by_child: Mapping[Hashable, int],
    offers: Sequence[Offer],
    chosen: Sequence[Chosen],
    taken: Sequence[Taken],
) -> dict[str, list[Fact]]:
    """Return for each chosen offer, by its code, whose pieces it covers, by the children's names.

    The first also has what the combination saves against single pieces.
    """
    facts: dict[str, list[Fact]] = {
        one.offer.code: [
            {
                "of": "covers",
                "pieces": [[str(child), count] for child, count in each.pieces.items()],
                "each_minor": each.offer.price_minor,
            }
            for each in taken
            if each.offer.code == one.offer.code
        ]
        for one in chosen
    }
    if chosen:
        facts[chosen[0].offer.code] += _saved(sum(pieces_by_child.values()), offers, chosen)
    return facts


def explain_bands(bands: Sequence[Band], size: int | None, unit: str) -> list[Fact]:
    """Return which band of size or distance applies, [] for a price without bands; `unit` is "mm" or "km"."""
    if not bands:
        return []
    if size is None:
        return [{"of": "size_unknown"}]
    step = next(band for band in sorted(bands, key=lambda b: b.up_to) if size <= band.up_to)
    return [{"of": "step", "size": size, "up_to": step.up_to, "unit": unit}]


def explain_discount(base_minor: int, percent: str, given: str) -> list[Fact]:
    """Explain a discount.

    `percent` is "" for a fixed amount; `given` is a key of GIVEN, "" if the owner gave it.
    """
    facts: list[Fact] = []
    if percent:
        facts.append({"of": "percent", "percent": percent, "base_minor": base_minor})
    if given:
        facts.append({"of": "given", "given": given})
    return facts


def _saved(number: int, offers: Sequence[Offer], chosen: Sequence[Chosen]) -> list[Fact]:
    singles = [offer.price_minor for offer in offers if offer.pieces == 1]
    total_minor = sum(one.offer.price_minor * one.quantity for one in chosen)
    if not singles or number < 2 or (one_by_one := number * min(singles)) <= total_minor:  # noqa: PLR2004
        return []
    return [
        {"of": "saves", "pieces": number, "singly_minor": one_by_one, "total_minor": total_minor}
    ]


def _covers(fact: Fact, format_money: FormatMoney) -> str:
    pieces = join_names(
        _("%(count)s of %(name)s") % {"count": count, "name": name}
        for name, count in fact["pieces"]
    )
    return f"{pieces}: {format_money(fact['each_minor'])}."


def _saves(fact: Fact, format_money: FormatMoney) -> str:
    singly_minor, total_minor = fact["singly_minor"], fact["total_minor"]
    sentence = _(
        "%(pieces)s single casts would be %(singly)s; the cheapest lawful mix of this list is "
        "%(total)s, %(saved)s less."
    )
    return sentence % {
        "pieces": fact["pieces"],
        "singly": format_money(singly_minor),
        "total": format_money(total_minor),
        "saved": format_money(singly_minor - total_minor),
    }


SENTENCES: dict[str, Callable[[Fact, FormatMoney], str]] = {
    "covers": _covers,
    "saves": _saves,
    "size_unknown": lambda fact, format_money: _(
        "The size is not known yet: this is the price until then."
    ),
    "step": lambda fact, format_money: (
        _("%(size)s %(unit)s: the step up to %(up_to)s %(unit)s.") % fact
    ),
    "percent": lambda fact, format_money: (
        _("%(percent)s %% of %(base)s, to the penny.")
        % {"percent": fact["percent"], "base": format_money(fact["base_minor"])}
    ),
    "given": lambda fact, format_money: _(GIVEN[fact["given"]]),
    "typed": lambda fact, format_money: str(
        fact["words"]
    ),  # of an old line, whose sentence was not read
}
