"""The order on the family page: the look to choose, the bill, the offer and the issued papers.

All of it is plain data without model instances.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TypedDict

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from orders.order import totals
from orders.order.models import Order
from orders.payments.received import received
from orders.prices.models import Price
from orders.prices.vat import Received
from orders.quotes.models import FamilyAnswer, Quote
from orders.quotes.quotation import Offer, build_offer
from studio import money
from studio.jobs.models import Job, Piece
from studio.stages import Stage

LABELS = {"backing": gettext_noop("Backing"), "finish": gettext_noop("Finish of the oak")}


@dataclass(frozen=True, slots=True)
class LookOption:
    """A backing or finish that may be chosen."""

    pk: int
    label: str
    difference: str  # what choosing it does to the total


@dataclass(frozen=True, slots=True)
class LookQuestion:
    """The choice of one part; `name` is "backing" or "finish"."""

    name: str
    label: str
    options: tuple[LookOption, ...]
    chosen: int | None

    def label_of(self, pk: int | None) -> str:
        """Return the label of the option with this primary key, "" if there is none."""
        return next((each.label for each in self.options if each.pk == pk), "")


@dataclass(frozen=True, slots=True)
class LookChoices:
    """The choices at one version of the look; a part without prices on the list is left out."""

    version: int
    questions: tuple[LookQuestion, ...]


def look_choices(order: Order) -> LookChoices:
    """Return what the family may choose on the order's price list. Two queries."""
    choices = totals.choices(order)
    of_each = {"backing": choices.backings, "finish": choices.finishes}
    return LookChoices(
        order.frame.version,
        tuple(_question(name, prices, order) for name, prices in of_each.items() if prices),
    )


class Chosen(TypedDict):
    """The chosen prices as arguments of `choose_look`."""

    backing: Price | None
    finish: Price | None


def chosen_look(order: Order, chosen: Mapping[str, int | None]) -> Chosen:
    """Return the prices with the chosen primary keys. One query."""
    found = order.price_list.prices.in_bulk([pk for pk in chosen.values() if pk])
    backing, finish = (found.get(chosen.get(name) or 0) for name in LABELS)
    return Chosen(backing=backing, finish=finish)


def _question(name: str, prices: Sequence[Price], order: Order) -> LookQuestion:
    option_pk: int | None = getattr(order.frame, f"{name}_id")
    chosen = next((price for price in prices if price.option_id == option_pk), None)
    options = (LookOption(each.pk, each.label, _difference(each, chosen, order)) for each in prices)
    return LookQuestion(name, _(LABELS[name]), tuple(options), chosen.pk if chosen else None)


def _difference(price: Price, chosen: Price | None, order: Order) -> str:
    if price == chosen:
        return _("chosen so far")
    size_mm = order.frame_mm
    more_minor = price.shown_at(size_mm) - (chosen.shown_at(size_mm) if chosen else 0)
    if more_minor == 0:
        return _("no change in price")
    amount = {"amount": money.display(abs(more_minor), order.unit.currency)}
    return (_("%(amount)s more") if more_minor > 0 else _("%(amount)s less")) % amount


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the bill, in minor units."""

    label: str
    quantity: int
    amount_minor: int


@dataclass(frozen=True, slots=True)
class Bill:
    """The price, the payments and the balance, in minor units; without lines there is no price yet."""

    lines: tuple[Line, ...]
    payments: tuple[Received, ...]
    sums: totals.Sums
    asks_deposit: bool
    deposit_days: int
    """The deposit is due this many days before the sitting; 0 means now."""

    @property
    def back_minor(self) -> int:
        """What the studio owes the family, in minor units."""
        return max(0, -self.sums.balance_minor)


@dataclass(frozen=True, slots=True)
class PriceAnswer:
    """The family's last answer to a price; `quote_pk` is None if it declined."""

    on: date
    text: str
    total_minor: int
    quote_pk: int | None = None


@dataclass(frozen=True, slots=True)
class Paper:
    """An invoice or credit note in the list of papers."""

    pk: int
    number: str
    kind: str
    issued_on: date
    total_minor: int


def bill_of(job: Job, order: Order) -> Bill:
    """Return the bill of an order loaded with `for_page`. No query."""
    lines = tuple(Line(li.words, li.quantity, li.amount_minor) for li in order.lines.all())
    payments, sums = tuple(received(order)), totals.sums(order)
    asks = not (job.is_closed or job.stage == Stage.READY) and sums.deposit_left_minor > 0
    days = job.unit.deposit_days if job.stage == Stage.BOOKED else 0
    return Bill(lines, payments, sums, asks_deposit=asks, deposit_days=days)


def open_offer(
    order: Order, pieces: Sequence[Piece], accepted: Quote | None, paid_minor: int, today: date
) -> Offer | None:
    """Return the offer that the family may still accept or decline, else None. No query.

    `accepted` is the newest quote, `pieces` are loaded with their children, `order` with `for_page`.
    """
    if order.job.is_closed or totals.current_invoice(order):
        return None
    offer = build_offer(order, list(order.lines.all()), pieces, paid_minor, today)
    return offer if offer.total_minor > 0 and not offer.is_of(accepted) else None


def last_answer(order: Order, accepted: Quote | None) -> PriceAnswer | None:
    """Return the family's newest answer, None without one or on a job called off. One query.

    `accepted` is the newest quote.
    """
    if order.job.stage == Stage.CALLED_OFF:
        return None
    answer = order.answers.last()
    if answer and _is_newest_refusal(answer, accepted):
        text = _("You said no: “%(words)s”") if answer.words else _("You said no")
        text %= {"words": answer.words}
        return PriceAnswer(timezone.localdate(answer.answered_at), text, answer.total_minor)
    if accepted is None:
        return None
    method = _("here") if accepted.by_id is None else _(accepted.get_method_display())
    on = timezone.localdate(accepted.accepted_at)
    return PriceAnswer(
        on, _("You ordered %(how)s") % {"how": method}, accepted.total_minor, accepted.pk
    )


def papers_of(order: Order) -> tuple[Paper, ...]:
    """Return the issued invoices and credit notes of an order loaded with `for_page`, newest first."""
    papers = sorted(order.invoices.all(), key=lambda each: (each.issued_on, each.pk), reverse=True)
    return tuple(
        Paper(
            paper.pk, paper.number, _(paper.get_kind_display()), paper.issued_on, paper.total_minor
        )
        for paper in papers
    )


def _is_newest_refusal(answer: FamilyAnswer, accepted: Quote | None) -> bool:
    return not answer.said_yes and (not accepted or accepted.accepted_at < answer.answered_at)
