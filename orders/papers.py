"""What an invoice or credit note says, frozen as plain data when it is issued.

UK first: the contents of gov.uk, "Invoices: what they must include", and for a registered trader
SI 1995/2518 reg 14. Of a trader who is not registered the paper holds neither the word nor an
amount of VAT (HMRC CH91350). Amounts are minor units, days ISO dates, percentages strings, so that
the content is JSON and reads the same in twenty years.
"""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from math import floor
from typing import Any

from studio import money

FORM = 1  # of the dictionary below: a renderer asks before it reads

Content = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Seller:
    name: str
    trader_name: str
    address: str
    postcode: str
    phone: str
    email: str
    vat_number: str = ""


@dataclass(frozen=True, slots=True)
class Customer:
    name: str
    address: str
    postcode: str


@dataclass(frozen=True, slots=True)
class Sold:
    """A line as priced: `unit_minor` includes VAT where there is any, below zero for a reduction."""

    label: str
    quantity: int
    unit_minor: int

    @property
    def gross_minor(self) -> int:
        return self.quantity * self.unit_minor


@dataclass(frozen=True, slots=True)
class Received:
    """Money that came in, or (below zero) went back, and stayed so."""

    on: date
    amount_minor: int
    how: str


@dataclass(frozen=True, slots=True)
class TaxPoint:
    """A part of the total, the day on which it is taxed, and its rate; None: not registered then."""

    on: date
    gross_minor: int
    percent: Decimal | None


@dataclass(frozen=True, slots=True)
class Facts:
    """Everything that goes on an invoice."""

    currency: str
    seller: Seller
    customer: Customer
    reference: str
    pieces: Sequence[str]
    lines: Sequence[Sold]
    received: Sequence[Received]
    tax_points: Sequence[TaxPoint]
    issued_on: date
    supplied_on: date
    payment_words: str


@dataclass(frozen=True, slots=True)
class Tax:
    """One rate of an invoice: net + VAT = gross, to the penny."""

    percent: Decimal | None
    net_minor: int
    vat_minor: int
    gross_minor: int
    points: Sequence[tuple[date, int, int]]
    """Day, gross and VAT of each slice; the last takes the difference of the rounding."""


def slices(
    total_minor: int, received: Iterable[Received], supplied_on: date
) -> list[tuple[date, int]]:
    """The total by tax point: what was received before the supply on its day, the rest at the supply.

    A deposit makes a tax point for its amount on receipt (HMRC VATTOS5105). Money that went back
    is taken from the newest deposit. Days rise; the amounts add up to the total.
    """
    early = sorted((r for r in received if r.on < supplied_on), key=lambda r: r.on)
    left = early_minor = max(0, min(total_minor, sum(r.amount_minor for r in early)))
    by_day: dict[date, int] = {}
    for deposit in (r for r in early if r.amount_minor > 0):
        taken = min(deposit.amount_minor, left)
        by_day[deposit.on] = by_day.get(deposit.on, 0) + taken
        left -= taken
    by_day[supplied_on] = total_minor - early_minor
    return [(on, amount) for on, amount in by_day.items() if amount]


def taxes(points: Sequence[TaxPoint]) -> list[Tax]:
    """Net and VAT for each rate, rounded half up once on its total (HMRC VATREC12020).

    The highest rate first, what was sold before the registration last.
    """
    rates = {point.percent for point in points}
    ordered = sorted(rates, key=lambda p: Decimal(-1) if p is None else p, reverse=True)
    return [_tax(percent, [p for p in points if p.percent == percent]) for percent in ordered]


def nets(gross: Sequence[int], net_minor: int) -> list[int]:
    """Share the net total among lines of these gross amounts: largest remainder, exact sum.

    Lines below zero (reductions) take their part below zero. Raises ValueError where the gross
    amounts come to nothing.
    """
    whole = sum(gross)
    if whole == 0:
        raise ValueError("There is nothing to share by: the lines come to nothing.")
    exact = [Fraction(amount * net_minor, whole) for amount in gross]
    parts = [floor(part) for part in exact]
    by_remainder = sorted(range(len(parts)), key=lambda i: parts[i] - exact[i])
    for i in by_remainder[: net_minor - sum(parts)]:
        parts[i] += 1
    return parts


def invoice(number: str, facts: Facts) -> Content:
    """The content of an invoice. Raises ValueError where the lines come to nothing."""
    total_minor = sum(line.gross_minor for line in facts.lines)
    paid_minor = sum(r.amount_minor for r in facts.received)
    content: Content = {
        "form": FORM,
        "kind": "invoice",
        "number": number,
        "currency": facts.currency,
        "seller": _seller(facts.seller),
        "customer": _customer(facts.customer),
        "reference": facts.reference,
        "issued_on": facts.issued_on.isoformat(),
        "supplied_on": facts.supplied_on.isoformat(),
        "pieces": list(facts.pieces),
        "lines": [
            {
                "label": line.label,
                "quantity": line.quantity,
                "unit_minor": line.unit_minor,
                "gross_minor": line.gross_minor,
            }
            for line in facts.lines
        ],
        "total_minor": total_minor,
        "payments": [
            {"on": r.on.isoformat(), "amount_minor": r.amount_minor, "how": r.how}
            for r in facts.received
        ],
        "paid_minor": paid_minor,
        "balance_minor": total_minor - paid_minor,
        "payment_words": facts.payment_words,
    }
    if any(point.percent is not None for point in facts.tax_points):
        _add_vat(content, facts)
    return content


def credit(of: Mapping[str, Any], *, number: str, issued_on: date, why: str) -> Content:
    """The content of a credit note that cancels the whole of an invoice (SI 1995/2518 reg 15C).

    Its amounts are those of the invoice, above zero: the paper says that they are credited.
    """
    kept = {name: value for name, value in of.items() if name not in _OF_PAYING}
    return kept | {
        "kind": "credit",
        "number": number,
        "issued_on": issued_on.isoformat(),
        "credits": {"number": of["number"], "issued_on": of["issued_on"]},
        "why": why,
    }


def names_vat(content: object) -> str | None:
    """The first words of an untaxed paper that speak of VAT, typed by somebody into a label."""
    return next((text for text in texts(content) if _VAT.search(text)), None)


def texts(content: object) -> Iterator[str]:
    """Every piece of text of a content."""
    if isinstance(content, str):
        yield content
    elif isinstance(content, Mapping):
        for value in content.values():
            yield from texts(value)
    elif isinstance(content, list):
        for value in content:
            yield from texts(value)


_OF_PAYING = ("payments", "paid_minor", "balance_minor", "payment_words")
_VAT = re.compile(r"\bV\.?A\.?T\b", re.IGNORECASE)


def _tax(percent: Decimal | None, points: Sequence[TaxPoint]) -> Tax:
    gross_minor = sum(point.gross_minor for point in points)
    if percent is None:
        untaxed = [(point.on, point.gross_minor, 0) for point in points]
        return Tax(None, gross_minor, 0, gross_minor, untaxed)
    vat_minor = money.vat_inside(gross_minor, percent)
    left, split = vat_minor, []
    for point in points[:-1]:
        part = money.vat_inside(point.gross_minor, percent)
        split.append((point.on, point.gross_minor, part))
        left -= part
    split.append((points[-1].on, points[-1].gross_minor, left))
    return Tax(percent, gross_minor - vat_minor, vat_minor, gross_minor, split)


def _add_vat(content: Content, facts: Facts) -> None:
    rates = taxes(facts.tax_points)
    content["seller"]["vat_number"] = facts.seller.vat_number
    content["net_minor"] = sum(rate.net_minor for rate in rates)
    content["vat_minor"] = sum(rate.vat_minor for rate in rates)
    shares = nets([line["gross_minor"] for line in content["lines"]], content["net_minor"])
    # Of several rates each line holds a part: the table of rates says how much.
    one = _percent(rates[0].percent) if len(rates) == 1 else None
    for line, net_minor in zip(content["lines"], shares, strict=True):
        line |= {"net_minor": net_minor, "percent": one}
    content["taxes"] = [
        {
            "percent": _percent(rate.percent),
            "net_minor": rate.net_minor,
            "vat_minor": rate.vat_minor,
            "gross_minor": rate.gross_minor,
            "points": [
                {"on": on.isoformat(), "gross_minor": gross, "vat_minor": vat}
                for on, gross, vat in rate.points
            ],
        }
        for rate in rates
    ]


def _percent(percent: Decimal | None) -> str | None:
    """ "20", "17.5"; None: not taxed."""
    return None if percent is None else f"{percent.normalize():f}"


def _seller(seller: Seller) -> dict[str, Any]:
    return {
        "name": seller.name,
        "trader_name": seller.trader_name,
        "address": _lines(seller.address),
        "postcode": seller.postcode,
        "phone": seller.phone,
        "email": seller.email,
    }


def _customer(customer: Customer) -> dict[str, Any]:
    return {
        "name": customer.name,
        "address": _lines(customer.address),
        "postcode": customer.postcode,
    }


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip()]
