"""The offer of an order to its family: lines, total, precontract information, and a fingerprint of
all.

Contents are compared in the source language, whatever the family reads in.
"""

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from django.conf import settings
from django.utils import translation
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders.order.models import Order, OrderLine
from orders.order.totals import Sums, deposit_of
from orders.prices.models import Price
from orders.prices.vat import Registration
from orders.quotes import precontract_information
from orders.quotes.frozen_content import digest
from orders.quotes.models import Quote
from orders.quotes.precontract_information import Information
from studio import money, units
from studio.accounts.models import Unit
from studio.jobs.models import Job, Piece
from studio.stages import Stage
from studio.units import join_names


@dataclass(frozen=True, slots=True)
class Offer:
    """What a family may accept: lines and total in minor units, and the precontract information."""

    content: dict[str, Any]
    """Lines, each with how its price came about, and the total, in the source language."""
    line_words: list[str]
    """The label of each line as the family reads it."""
    information: list[Information]
    """As the family reads it."""
    fingerprint: str
    """A digest of the offer, to detect that it has changed since somebody saw it."""

    @property
    def total_minor(self) -> int:
        total: int = self.content["total_minor"]
        return total

    @property
    def stored_content(self) -> dict[str, Any]:
        """The content as a quote stores it: a translated line has the words that were read as well."""
        lines = [
            line if words == line["label"] else line | {"words": words}
            for line, words in zip(self.content["lines"], self.line_words, strict=True)
        ]
        return self.content | {"lines": lines}

    @property
    def stored_information(self) -> list[dict[str, Any]]:
        """The precontract information as a quote stores it."""
        return _stored(self.information)

    def is_of(self, quote: Quote | None) -> bool:
        """Whether the quote accepted this very price, in whatever language it was read."""
        if quote is None:
            return False
        lines = [
            {name: value for name, value in line.items() if name != "words"}
            for line in quote.content["lines"]
        ]
        return bool(quote.content | {"lines": lines} == self.content)


def offer_of(order: Order, today: date) -> Offer:
    """Return the current offer of an order. Three queries."""
    lines = order.lines.select_related("price")
    pieces = order.job.pieces.on_the_job().select_related("child")
    paid_minor = sum(order.payments.values_list("amount_minor", flat=True))
    return build_offer(order, list(lines), list(pieces), paid_minor, today)


def build_offer(
    order: Order,
    lines: Sequence[OrderLine],
    pieces: Sequence[Piece],
    paid_minor: int,
    today: date,
) -> Offer:
    """Return the offer from loaded rows: lines with their prices, pieces with their children. No
    query.
    """
    delivery = [li.label for li in lines if li.price and li.price.kind == Price.Kind.DELIVERY]
    total_minor = sum(line.amount_minor for line in lines)
    sums = Sums(total_minor, paid_minor, deposit_of(order.unit, total_minor))

    def information() -> list[Information]:
        terms = _terms(order, sums, _made(pieces), join_names(delivery), today)
        return precontract_information.information(terms)

    with translation.override(settings.LANGUAGE_CODE):
        content, in_source = _content(order, lines, total_minor), information()
    fingerprint = digest([content, _stored(in_source)])
    if translation.get_language() == settings.LANGUAGE_CODE:
        return Offer(content, [line.label for line in lines], in_source, fingerprint)
    return Offer(content, [line.words for line in lines], information(), fingerprint)


def _content(order: Order, lines: Sequence[OrderLine], total_minor: int) -> dict[str, Any]:
    return {
        "currency": order.unit.currency,
        "lines": [
            {
                "label": line.label,
                "quantity": line.quantity,
                "unit_minor": line.unit_minor,
                "how": line.explanations,
            }
            for line in lines
        ],
        "total_minor": total_minor,
    }


def _stored(information: Iterable[Information]) -> list[dict[str, Any]]:
    return [asdict(each) | {"version": precontract_information.VERSION} for each in information]


def _terms(
    order: Order, sums: Sums, made: str, delivery: str, today: date
) -> precontract_information.Terms:
    job, unit = order.job, order.unit
    registered = Registration(unit.vat_registered_on, unit.vat_left_on).holds_on(today)
    return precontract_information.Terms(
        studio=unit.name,
        trader=unit.trader_name,
        address=", ".join([*unit.address.splitlines(), unit.postcode]),
        phone=unit.phone,
        email=unit.email,
        country=unit.country,
        made=made,
        total=money.display(sums.total_minor, unit.currency),
        tax_name=unit.tax_name if registered else "",
        delivery=delivery,
        paid=_format_positive(sums.paid_minor, unit),
        deposit=_format_positive(sums.deposit_left_minor, unit),
        deposit_due=_deposit_due(job),
        ready_by=units.full_day(job.promised_on) if job.promised_on else "",
    )


def _format_positive(minor: int, unit: Unit) -> str:
    return money.display(minor, unit.currency) if minor > 0 else ""


def _made(pieces: Iterable[Piece]) -> str:
    limbs: dict[str, list[str]] = {}
    for piece in pieces:
        limbs.setdefault(piece.child.first_name, []).append(_(piece.get_limb_display()))
    return "; ".join(f"{name}, {join_names(found)}" for name, found in limbs.items())


def _deposit_due(job: Job) -> str:
    days = job.unit.deposit_days
    if job.stage != Stage.BOOKED or not days:
        return _("now")
    due = ngettext(
        "at least %(days)s day before the sitting",
        "at least %(days)s days before the sitting",
        days,
    )
    return due % {"days": days}
