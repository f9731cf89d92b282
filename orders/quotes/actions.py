"""Accept or decline a price: recorded by the studio, or by the family on its page."""

from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.order.models import Order
from orders.order.settlement import refuse_invoiced
from orders.quotes.models import FamilyAnswer, Quote
from orders.quotes.quotation import Offer, offer_of
from studio.accounts.models import User
from studio.jobs.job_action import JobAction, job_action, lock_job, refuse_closed
from studio.stages import ActionRefused, MovedMeanwhile


@job_action(lambda order, earlier: order.quotes.get(key=earlier.key))
def accept_quote(
    act: JobAction,
    order: Order,
    *,
    method: str,
    fingerprint: str = "",
    by: User | None,
    at: datetime,
    key: UUID,
) -> Quote:
    """Store the current price as a quote accepted by the family; its price list is then fixed.

    `method` is a value of `Quote.Method`. `by` None is the family itself: it accepts the offer with this
    `fingerprint`, and the precontract information is stored with the quote. Accepting again after a change makes
    another quote.

    Raises MoveRefused on an ended job; ActionRefused if nothing is charged or this price is
    accepted already. For the family also ActionRefused while an invoice is in force, and
    MovedMeanwhile if the offer has changed since.
    """
    order = act.job.order
    offer = _offer_to_answer(act, fingerprint=fingerprint if by is None else None)
    if offer.is_of(order.quotes.last()):
        raise ActionRefused(_("This very price is accepted already."))
    quote = order.quotes.create(
        unit=order.unit,
        accepted_at=at,
        method=Quote.Method(method),
        total_minor=offer.total_minor,
        content=offer.stored_content,
        precontract_information=offer.stored_information if by is None else [],
        by=by,
        key=key,
    )
    if by is None:
        _answer(order, offer, quote=quote, at=at, key=key)
    # No amount in the history, which helpers read too; quote and answer store it.
    act.record()
    return quote


@job_action(lambda order, earlier: order.answers.get(key=earlier.key))
def decline_quote(
    act: JobAction, order: Order, *, fingerprint: str, words: str, at: datetime, key: UUID
) -> FamilyAnswer:
    """Record that the family declines the offer with this `fingerprint`; `words` may say why.

    Raises what `accept_quote` raises for a family, and ActionRefused for a price that it has
    accepted or declined already.
    """
    order = act.job.order
    offer = _offer_to_answer(act, fingerprint=fingerprint)
    if offer.is_of(order.quotes.last()):
        raise ActionRefused(
            _("You have ordered at this price. To change or call it off, speak with us.")
        )
    last = order.answers.last()
    if last and not last.said_yes and last.total_minor == offer.total_minor:
        raise ActionRefused(_("You have said no to this price already: we shall speak with you."))
    answer = _answer(order, offer, words=words.strip(), at=at, key=key)
    act.record(why=answer.words)
    return answer


@transaction.atomic
def note_answer(order: Order, *, at: datetime) -> None:
    """Mark the family's answers as read, which removes them from Today; repeating it is harmless."""
    job = lock_job(order.job)
    job.order.answers.filter(noted_at=None).update(noted_at=at)


def _offer_to_answer(act: JobAction, *, fingerprint: str | None) -> Offer:
    """Return the offer that may be answered; `fingerprint` None if the studio answers for the
    family.
    """
    order = act.job.order
    refuse_closed(act.job)
    offer = offer_of(order, timezone.localdate(act.at))
    if fingerprint is not None:
        refuse_invoiced(order)
        if fingerprint != offer.fingerprint:
            raise MovedMeanwhile(
                _(
                    "The price, or what goes with it, has changed since you opened this page: "
                    "read it again."
                )
            )
    if offer.total_minor <= 0:
        raise ActionRefused(_("The order comes to nothing: there is no price to accept."))
    return offer


def _answer(
    order: Order,
    offer: Offer,
    *,
    quote: Quote | None = None,
    words: str = "",
    at: datetime,
    key: UUID,
) -> FamilyAnswer:
    order.answers.filter(noted_at=None).update(noted_at=at)  # the newest word counts
    return order.answers.create(
        unit=order.unit,
        answered_at=at,
        quote=quote,
        total_minor=offer.total_minor,
        words=words,
        key=key,
    )
