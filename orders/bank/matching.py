"""Match bank lines to orders: by reference, then by amount and name, each with a reason.

Matches are proposals only: a payment is posted when the owner confirms it.
"""

import re
import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from stdnum import iso11649

from orders.bank.bank_files import Line
from studio import references


@dataclass(frozen=True, slots=True)
class Owing:
    """An order that is not fully paid; amounts in minor units."""

    key: int
    reference: str
    """Of the job, stored form: "CY8YEGPH"."""
    balance_minor: int
    deposit_left_minor: int
    names: Sequence[str]
    """Family name and contact, as written."""
    invoice_numbers: Sequence[str] = ()


@dataclass(frozen=True, slots=True)
class Proposal:
    """A possible match of a line; `key` is that of the order."""

    key: int
    strength: int
    """3 by reference, 2 by amount and name, 1 by one of them alone."""
    why: str
    fits: bool
    """Whether the amount is at most what is left to pay."""


def propose(lines: Sequence[Line], owing: Iterable[Owing]) -> list[list[Proposal]]:
    """Propose orders for each line, the most certain first; at most three by amount or name alone."""
    book = _Book.of(owing)
    return [book.proposals(line) for line in lines]


@dataclass(slots=True)
class _Book:
    """Unpaid orders, indexed by reference, invoice number, amount and name."""

    by_reference: dict[str, Owing] = field(default_factory=dict)
    by_invoice: dict[str, Owing] = field(default_factory=dict)
    by_amount: dict[int, list[Owing]] = field(default_factory=lambda: defaultdict(list))
    by_name: dict[str, list[Owing]] = field(default_factory=lambda: defaultdict(list))

    @classmethod
    def of(cls, owing: Iterable[Owing]) -> "_Book":
        book = cls()
        for order in owing:
            book.by_reference[order.reference] = order
            for number in order.invoice_numbers:
                book.by_invoice[_bare(number)] = order
            for amount in {order.balance_minor, order.deposit_left_minor} - {0}:
                book.by_amount[amount].append(order)
            for word in {word for name in order.names for word in name_words(name)}:
                book.by_name[word].append(order)
        return book

    def proposals(self, line: Line) -> list[Proposal]:
        """Return the orders that a line may pay; [] for outgoing money."""
        if line.amount_minor <= 0:
            return []
        if named := self._by_reference(line):
            return named
        alike = set(name_words(f"{line.name} {line.words}"))
        of_name = {each.key: each for word in alike for each in self.by_name.get(word, [])}
        of_amount = {each.key: each for each in self.by_amount.get(line.amount_minor, [])}
        both = [
            _proposal(each, line, 2, "The amount and the name agree.")
            for key, each in of_amount.items()
            if key in of_name
        ]
        if both:
            return both
        alone = [_proposal(each, line, 1, "Only the amount agrees.") for each in of_amount.values()]
        alone += [_proposal(each, line, 1, "Only the name agrees.") for each in of_name.values()]
        return alone[:3]

    def _by_reference(self, line: Line) -> list[Proposal]:
        text = f"{line.words} {line.name}".upper()
        found: dict[int, Proposal] = {}
        for reference in references_in(text):
            if each := self.by_reference.get(reference):
                shown = references.display(reference)
                found.setdefault(each.key, _proposal(each, line, 3, f"It names job {shown}."))
        for number in re.findall(r"[A-Z]{2,8}-?\s?\d{3,8}", text):
            if each := self.by_invoice.get(_bare(number)):
                found.setdefault(each.key, _proposal(each, line, 3, f"It names invoice {number}."))
        return list(found.values())


def references_in(text: str) -> list[str]:
    """Find job references in a payer's text by their check symbols: plain, with hyphen or spaces,
    or as RF….

    A creditor reference (RF…) with wrong check digits is ignored.
    """
    found: dict[str, None] = {}
    for creditor in re.findall(r"\bRF\d{2}(?:\s?[0-9A-Z]{1,4}){1,5}", text.upper()):
        bare = _bare(creditor)[: 4 + references.LENGTH]
        if iso11649.is_valid(bare) and (reference := _tidy(bare[4:])):
            found[reference] = None
    body = r"[0-9A-Z]"
    for word in re.findall(rf"(?<!{body})({body}{{4}}[\s-]?{body}{{4}})(?!{body})", text.upper()):
        if reference := _tidy(word):
            found[reference] = None
    return list(found)


_TITLES = {"MR", "MRS", "MS", "MISS", "MX", "DR", "AND", "THE", "FAMILY", "REF", "FROM", "PAYMENT"}


def name_words(name: str) -> list[str]:
    """Return the distinctive words of a name in upper case, without accents, titles and initials."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().upper()
    shortest = 3
    return [
        word
        for word in re.findall(r"[A-Z]+", plain)
        if len(word) >= shortest and word not in _TITLES
    ]


def _proposal(order: Owing, line: Line, strength: int, why: str) -> Proposal:
    fits = line.amount_minor <= order.balance_minor
    if line.amount_minor == order.balance_minor:
        more = " It is all that is left to pay."
    elif line.amount_minor == order.deposit_left_minor:
        more = " It is the deposit."
    elif fits:
        more = " It is a part of what is left to pay."
    else:
        more = " It is more than is left to pay."
    return Proposal(order.key, strength, why + more, fits)


def _tidy(text: str) -> str:
    try:
        return references.normalise(text)
    except ValueError:
        return ""


def _bare(text: str) -> str:
    return re.sub(r"[^0-9A-Z]", "", text.upper())
