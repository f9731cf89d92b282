"""Precontract information: what a family reads before it orders, stored with the quote; pure.

The rules are the United Kingdom's: goods made to order cannot be cancelled (Consumer Contracts
Regulations 2013 reg 28(1)(b) [src]); faulty goods (Consumer Rights Act 2015 ss. 22-24 [src]);
delivery within 30 days unless agreed otherwise (s. 28 [src]); the total price first (DMCC Act 2024
[src]); only real losses may be kept of a deposit (CMA guidance [src]). The button that says that it
obliges to pay, and the confirmation on paper, are regs 14(3)-(4) and 16 [mem]. In other countries
only the facts are shown. No legal advice.
"""

from dataclasses import dataclass

VERSION = 1  # of the sentences: raise it when one changes

HOME = "GB"


@dataclass(frozen=True, slots=True)
class Terms:
    """The facts of an offer, formatted for reading; "" if there is none."""

    studio: str
    trader: str
    address: str
    phone: str
    email: str
    country: str
    made: str
    """ "Ada, left hand and right hand"."""
    total: str
    tax_name: str
    """Where tax is inside the total."""
    delivery: str
    paid: str
    deposit: str
    """What is left of it to pay."""
    deposit_due: str
    """ "at least 7 days before the sitting", "now"."""
    ready_by: str


@dataclass(frozen=True, slots=True)
class Information:
    """One item of information, with the law it rests on."""

    heading: str
    words: str
    law: str = ""


def information(terms: Terms) -> list[Information]:
    """Return the items in reading order, the price first."""
    facts = [
        Information("The whole price", _price(terms), _at_home(terms, "DMCC Act 2024")),
        Information("When you pay", _paying(terms)),
        Information("What we make", f"Casts of {terms.made}, from prints of your own children."),
        Information(
            "When it is ready", _ready(terms), _at_home(terms, _DELIVERY, also=not terms.ready_by)
        ),
        Information("Who we are", _who(terms)),
    ]
    return [*facts, *_RIGHTS] if terms.country == HOME else [*facts, _ELSEWHERE]


_DELIVERY = "Consumer Rights Act 2015, section 28"

_RIGHTS = (
    Information(
        "No change of mind",
        "It is made to your order, from your own children’s prints: once you have ordered it, it cannot "
        "be sent back because you have changed your mind.",
        "Consumer Contracts Regulations 2013, regulation 28(1)(b)",
    ),
    Information(
        "If you call it off before it is finished",
        "We keep no more of what you paid than it has really cost us.",
        "Guidance of the Competition and Markets Authority",
    ),
    Information(
        "If something is wrong with it",
        "We must give you what was agreed, sound and as described. A faulty piece you may refuse within 30 "
        "days and have your money back. After that we may mend or remake it once; if that fails you may "
        "keep it for less, or give it back. Nothing here takes these rights from you.",
        "Consumer Rights Act 2015, sections 22 to 24",
    ),
    Information(
        "If you are not content", "Tell us, by telephone or in writing: we look into it with you."
    ),
)

_ELSEWHERE = Information(
    "Your rights", "Whatever the law of your country gives you stands beside what is said here."
)


def _price(terms: Terms) -> str:
    with_tax = f" with {terms.tax_name}" if terms.tax_name else ""
    brought = f"{terms.delivery} is in it." if terms.delivery else "You collect it from us."
    return f"{terms.total} altogether{with_tax}. {brought} Nothing else is charged."


def _paying(terms: Terms) -> str:
    paid = f"{terms.paid} is paid already. " if terms.paid else ""
    if terms.deposit:
        deposit = f"A deposit of {terms.deposit} {terms.deposit_due}, the rest"
        return f"{paid}{deposit} before it goes home."
    return f"{paid}The rest before it goes home." if paid else "All of it before it goes home."


def _ready(terms: Terms) -> str:
    if terms.ready_by:
        return f"By {terms.ready_by}. If that changes we tell you at once."
    if terms.country == HOME:
        return "No day is agreed yet. Until one is, it is due within 30 days."
    return "No day is agreed yet."


def _who(terms: Terms) -> str:
    name = f"{terms.trader}, {terms.studio}" if terms.trader else terms.studio
    return ". ".join(filter(None, [f"{name}, {terms.address}", terms.phone, terms.email]))


def _at_home(terms: Terms, law: str, *, also: bool = True) -> str:
    return law if also and terms.country == HOME else ""
