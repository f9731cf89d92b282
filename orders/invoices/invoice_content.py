"""The content of invoices and credit notes, frozen as plain data when they are issued; pure.

It follows gov.uk, "Invoices: what they must include", and SI 1995/2518 reg 14 for a registered
trader. Of an unregistered trader the paper has neither the word VAT nor an amount of it (HMRC
CH91350). Amounts are minor units, days ISO dates and percentages strings, so that the content is
JSON.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from orders.payments.payment_references import creditor_reference
from orders.prices import vat
from orders.prices.vat import Received, TaxPoint
from orders.quotes.frozen_content import texts
from studio import money

FORM = 2  # version of the content, for whatever renders it

Content = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Seller:
    """The unit as named on its papers."""

    name: str
    trader_name: str
    address: str
    postcode: str
    phone: str
    email: str
    vat_number: str = ""
    country: str = "GB"
    tax_name: str = "VAT"


@dataclass(frozen=True, slots=True)
class Customer:
    """The family as named on its papers."""

    name: str
    address: str
    postcode: str
    country: str = "GB"


@dataclass(frozen=True, slots=True)
class Sold:
    """A line as priced, in minor units incl. VAT; below zero for a reduction."""

    label: str
    quantity: int
    unit_minor: int

    @property
    def gross_minor(self) -> int:
        return self.quantity * self.unit_minor


@dataclass(frozen=True, slots=True)
class Facts:
    """Everything that goes into an invoice."""

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
    due_on: date
    payment_words: str


def invoice(number: str, facts: Facts) -> Content:
    """Return the content of an invoice. Raises ValueError if the lines add up to nothing."""
    total_minor = sum(line.gross_minor for line in facts.lines)
    paid_minor = sum(r.amount_minor for r in facts.received)
    content: Content = {
        "form": FORM,
        "kind": "invoice",
        "number": number,
        "currency": facts.currency,
        "seller": seller_content(facts.seller),
        "customer": _customer(facts.customer),
        "reference": facts.reference,
        "payment_reference": creditor_reference(facts.reference),
        "issued_on": facts.issued_on.isoformat(),
        "supplied_on": facts.supplied_on.isoformat(),
        "due_on": facts.due_on.isoformat(),
        "pieces": list(facts.pieces),
        "lines": [_line(line.label, line.quantity, line.unit_minor) for line in facts.lines],
        "total_minor": total_minor,
        # The total by tax point, also of an unregistered trader, whose turnover is counted by it.
        "slices": [
            {"on": point.on.isoformat(), "gross_minor": point.gross_minor}
            for point in facts.tax_points
        ],
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


def less_taxed_before(
    lines: Sequence[Sold], received: Iterable[Received]
) -> tuple[list[Sold], list[Received]]:
    """Move payments by vouchers that were taxed when sold from the payments to the lines, below
    zero.

    Returns the lines and the other payments. Using such a voucher is no further supply (VATA 1994
    Sch 10B), so what it pays for is neither part of the total nor a prepayment.
    """
    money = list(received)
    before = [Sold(r.taxed_before, 1, -r.amount_minor) for r in money if r.taxed_before]
    return [*lines, *before], [r for r in money if not r.taxed_before]


def credit(
    of: Mapping[str, Any],
    *,
    number: str,
    issued_on: date,
    why: str,
    before: Sequence[Mapping[str, Any]] = (),
) -> Content:
    """Return the content of a credit note that cancels an invoice (SI 1995/2518 reg 15C).

    `of` is the frozen content of the invoice, `before` are those of its earlier credit notes: what they have left is
    credited. Amounts are above zero. Raises ValueError
    if nothing is left.
    """
    left_minor = of["total_minor"] - sum(note["total_minor"] for note in before)
    if left_minor <= 0:
        raise ValueError("Nothing of it is left to credit.")
    content = _note(of, number, issued_on, why)
    if not before:
        return content
    content["total_minor"] = left_minor
    content["lines"] = [*of["lines"], *(_already(note) for note in before)]
    return content | _taxed(of, _remaining(of, before))


def credit_part(
    of: Mapping[str, Any],
    *,
    number: str,
    issued_on: date,
    why: str,
    amount_minor: int,
    before: Sequence[Mapping[str, Any]] = (),
) -> Content:
    """Return the content of a credit note for a part of an invoice, which remains in force.

    `of` and `before` as for `credit`. The amount is shared among the VAT rates by what is left of
    each, so that notes for the whole invoice add up to its tax exactly. Raises ValueError for
    nothing or more than is left.
    """
    left_minor = of["total_minor"] - sum(note["total_minor"] for note in before)
    if not 0 < amount_minor <= left_minor:
        raise ValueError("Credit an amount above zero, and at most what is left of the invoice.")
    line = _line(why, 1, amount_minor)
    content = _note(of, number, issued_on, why)
    content |= {"part": True, "pieces": [], "lines": [line], "total_minor": amount_minor}
    if "taxes" not in of:
        return content
    left = _remaining(of, before)
    parts = money.share(amount_minor, [each.gross_minor for each in left])
    taxed = [_part_of(each, part) for each, part in zip(left, parts, strict=True) if part]
    content |= _taxed(of, taxed)
    one = _percent(taxed[0].percent) if len(taxed) == 1 else None
    line |= {"net_minor": content["net_minor"], "percent": one}
    return content


def names_vat(content: object, tax_name: str = "VAT") -> str | None:
    """Return the first text of an untaxed paper that mentions the tax, else None."""
    own = re.compile(rf"\b{re.escape(tax_name)}\b", re.IGNORECASE)
    return next((text for text in texts(content) if _VAT.search(text) or own.search(text)), None)


_OF_PAYING = ("payments", "paid_minor", "balance_minor", "payment_words", "due_on", "slices")

_VAT = re.compile(r"\bV\.?A\.?T\b", re.IGNORECASE)


def _add_vat(content: Content, facts: Facts) -> None:
    rates = vat.taxes(facts.tax_points)
    content["seller"]["vat_number"] = facts.seller.vat_number
    content["tax_name"] = facts.seller.tax_name
    content["net_minor"] = sum(rate.net_minor for rate in rates)
    content["vat_minor"] = sum(rate.vat_minor for rate in rates)
    shares = vat.nets([line["gross_minor"] for line in content["lines"]], content["net_minor"])
    # With several rates each line is in part at each of them: see the table of rates.
    one = _percent(rates[0].percent) if len(rates) == 1 else None
    for line, net_minor in zip(content["lines"], shares, strict=True):
        line |= {"net_minor": net_minor, "percent": one}
    content["taxes"] = [_rate(rate) for rate in rates]


def _line(label: str, quantity: int, unit_minor: int) -> dict[str, Any]:
    return {
        "label": label,
        "quantity": quantity,
        "unit_minor": unit_minor,
        "gross_minor": quantity * unit_minor,
    }


def _note(of: Mapping[str, Any], number: str, issued_on: date, why: str) -> Content:
    common = {name: value for name, value in of.items() if name not in _OF_PAYING}
    return common | {
        "kind": "credit",
        "number": number,
        "issued_on": issued_on.isoformat(),
        "credits": {"number": of["number"], "issued_on": of["issued_on"]},
        "why": why,
    }


def _already(note: Mapping[str, Any]) -> dict[str, Any]:
    """Return an earlier partial note as a line of the note for the rest."""
    label = _("Credited by %(number)s") % {"number": note["number"]}
    line = _line(label, 1, -note["total_minor"])
    if "net_minor" in note:
        line |= {"net_minor": -note["net_minor"], "percent": note["lines"][0]["percent"]}
    return line


def _remaining(of: Mapping[str, Any], before: Iterable[Mapping[str, Any]]) -> list[vat.Tax]:
    """Return what earlier notes have left of each rate of an invoice."""
    left = {row["percent"]: [row["gross_minor"], row["vat_minor"]] for row in of.get("taxes", ())}
    for note in before:
        for row in note.get("taxes", ()):
            left[row["percent"]][0] -= row["gross_minor"]
            left[row["percent"]][1] -= row["vat_minor"]
    return [
        _tax(None if percent is None else Decimal(percent), gross, tax)
        for percent, (gross, tax) in left.items()
    ]


def _part_of(left: vat.Tax, gross_minor: int) -> vat.Tax:
    """Return a part of one rate: its tax is rounded half up, and the last part takes the rest."""
    exact = Decimal(left.vat_minor) * gross_minor / left.gross_minor
    return _tax(left.percent, gross_minor, money.round_half_up(exact))


def _tax(percent: Decimal | None, gross_minor: int, vat_minor: int) -> vat.Tax:
    return vat.Tax(percent, gross_minor - vat_minor, vat_minor, gross_minor, ())


def _taxed(of: Mapping[str, Any], rates: Sequence[vat.Tax]) -> Content:
    """Return the totals by rate of a credit note, {} if the invoice has no tax."""
    if "taxes" not in of:
        return {}
    return {
        "net_minor": sum(rate.net_minor for rate in rates),
        "vat_minor": sum(rate.vat_minor for rate in rates),
        "taxes": [_rate(rate) for rate in rates if rate.gross_minor],
    }


def _rate(rate: vat.Tax) -> Content:
    return {
        "percent": _percent(rate.percent),
        "net_minor": rate.net_minor,
        "vat_minor": rate.vat_minor,
        "gross_minor": rate.gross_minor,
        "points": [
            {"on": on.isoformat(), "gross_minor": gross, "vat_minor": tax}
            for on, gross, tax in rate.points
        ],
    }


def _percent(percent: Decimal | None) -> str | None:
    """Format a rate as "20" or "17.5"; None is not taxed."""
    return None if percent is None else f"{percent.normalize():f}"


def seller_content(seller: Seller) -> dict[str, Any]:
    """Return the seller's names and address as stored on a paper; the VAT number is added apart."""
    return {
        "name": seller.name,
        "trader_name": seller.trader_name,
        "address": _lines(seller.address),
        "postcode": seller.postcode,
        "phone": seller.phone,
        "email": seller.email,
        "country": seller.country,
    }


def _customer(customer: Customer) -> dict[str, Any]:
    return {
        "name": customer.name,
        "address": _lines(customer.address),
        "postcode": customer.postcode,
        "country": customer.country,
    }


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip()]
