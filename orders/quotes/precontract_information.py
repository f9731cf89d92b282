"""Precontract information: what a family reads before it orders, stored with the quote; pure.

The rules are the United Kingdom's: goods made to order cannot be cancelled (Consumer Contracts
Regulations 2013 reg 28(1)(b) [src]); faulty goods (Consumer Rights Act 2015 ss. 22-24 [src]);
delivery within 30 days unless agreed otherwise (s. 28 [src]); the total price first (DMCC Act 2024
[src]); only real losses may be kept of a deposit (CMA guidance [src]). The button that says that it
obliges to pay, and the confirmation on paper, are regs 14(3)-(4) and 16 [mem]. In other countries
only the facts are shown. No legal advice.
"""

from dataclasses import astuple, dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

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
    """Return the items in reading order, the price first, in the language of the reader."""
    facts = [
        Information(_("The whole price"), _price(terms), _at_home(terms, _("DMCC Act 2024"))),
        Information(_("When you pay"), _paying(terms)),
        Information(
            _("What we make"),
            _("Casts of %(made)s, from prints of your own children.") % {"made": terms.made},
        ),
        Information(
            _("When it is ready"),
            _ready(terms),
            _at_home(terms, _("Consumer Rights Act 2015, section 28"), also=not terms.ready_by),
        ),
        Information(_("Who we are"), _who(terms)),
    ]
    rights = _RIGHTS if terms.country == HOME else _RIGHTS_ELSEWHERE
    return facts + [Information(*(_(text) for text in astuple(each))) for each in rights]


_RIGHTS = (
    Information(
        gettext_noop("No change of mind"),
        gettext_noop(
            "It is made to your order, from your own children’s prints: once you have ordered it, it cannot "
            "be sent back because you have changed your mind."
        ),
        gettext_noop("Consumer Contracts Regulations 2013, regulation 28(1)(b)"),
    ),
    Information(
        gettext_noop("If you call it off before it is finished"),
        gettext_noop("We keep no more of what you paid than it has really cost us."),
        gettext_noop("Guidance of the Competition and Markets Authority"),
    ),
    Information(
        gettext_noop("If something is wrong with it"),
        gettext_noop(
            "We must give you what was agreed, sound and as described. A faulty piece you may refuse within 30 "
            "days and have your money back. After that we may mend or remake it once; if that fails you may "
            "keep it for less, or give it back. Nothing here takes these rights from you."
        ),
        gettext_noop("Consumer Rights Act 2015, sections 22 to 24"),
    ),
    Information(
        gettext_noop("If you are not content"),
        gettext_noop("Tell us, by telephone or in writing: we look into it with you."),
    ),
)

_RIGHTS_ELSEWHERE = (
    Information(
        gettext_noop("Your rights"),
        gettext_noop("Whatever the law of your country gives you stands beside what is said here."),
    ),
)


def _price(terms: Terms) -> str:
    facts = {"total": terms.total, "tax": terms.tax_name, "delivery": terms.delivery}
    total = (
        _("%(total)s altogether with %(tax)s.") if terms.tax_name else _("%(total)s altogether.")
    )
    brought = _("%(delivery)s is in it.") if terms.delivery else _("You collect it from us.")
    return " ".join([total % facts, brought % facts, _("Nothing else is charged.")])


def _paying(terms: Terms) -> str:
    facts = {"paid": terms.paid, "deposit": terms.deposit, "due": terms.deposit_due}
    if terms.deposit:
        rest = _("A deposit of %(deposit)s %(due)s, the rest before it goes home.") % facts
    elif terms.paid:
        rest = _("The rest before it goes home.")
    else:
        rest = _("All of it before it goes home.")
    return " ".join([_("%(paid)s is paid already.") % facts, rest]) if terms.paid else rest


def _ready(terms: Terms) -> str:
    if terms.ready_by:
        return _("By %(day)s. If that changes we tell you at once.") % {"day": terms.ready_by}
    if terms.country == HOME:
        return _("No day is agreed yet. Until one is, it is due within 30 days.")
    return _("No day is agreed yet.")


def _who(terms: Terms) -> str:
    name = f"{terms.trader}, {terms.studio}" if terms.trader else terms.studio
    return ". ".join(filter(None, [f"{name}, {terms.address}", terms.phone, terms.email]))


def _at_home(terms: Terms, law: str, *, also: bool = True) -> str:
    return law if also and terms.country == HOME else ""
