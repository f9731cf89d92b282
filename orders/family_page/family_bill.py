"""The money of the family page: the bill, the offer to answer, the last answer and the issued papers."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from orders.order import totals
from orders.order.models import Order
from orders.payments.received import received
from orders.prices.vat import Received
from orders.quotes.models import FamilyAnswer, Quote
from orders.quotes.quotation import Offer, build_offer
from studio.jobs.models import Job, Piece
from studio.stages import Stage


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
    lines = tuple(Line(li.label, li.quantity, li.amount_minor) for li in order.lines.all())
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
    same = accepted is not None and accepted.content == offer.content
    return offer if offer.total_minor > 0 and not same else None


def last_answer(order: Order, accepted: Quote | None) -> PriceAnswer | None:
    """Return the family's newest answer, None without one or on a job called off. One query.

    `accepted` is the newest quote.
    """
    if order.job.stage == Stage.CALLED_OFF:
        return None
    answer = order.answers.last()
    if answer and _is_newest_refusal(answer, accepted):
        text = f"You said no: “{answer.words}”" if answer.words else "You said no"
        return PriceAnswer(timezone.localdate(answer.answered_at), text, answer.total_minor)
    if accepted is None:
        return None
    how = "here" if accepted.by_id is None else accepted.get_how_display()
    on = timezone.localdate(accepted.accepted_at)
    return PriceAnswer(on, f"You ordered {how}", accepted.total_minor, accepted.pk)


def papers_of(order: Order) -> tuple[Paper, ...]:
    """Return the issued invoices and credit notes of an order loaded with `for_page`, newest first."""
    papers = sorted(order.invoices.all(), key=lambda each: (each.issued_on, each.pk), reverse=True)
    return tuple(
        Paper(paper.pk, paper.number, paper.get_kind_display(), paper.issued_on, paper.total_minor)
        for paper in papers
    )


def _is_newest_refusal(answer: FamilyAnswer, accepted: Quote | None) -> bool:
    return not answer.said_yes and (not accepted or accepted.accepted_at < answer.answered_at)
