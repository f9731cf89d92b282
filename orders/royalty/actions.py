"""Set royalty terms and send returns; each paper is counted in one return only."""

from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils import timezone

from orders.royalty.drafts import Draft, draft_return
from orders.royalty.models import RoyaltyLine, RoyaltyReturn, RoyaltyTerms
from studio import units
from studio.accounts.actions import lock_unit
from studio.accounts.models import Unit, User
from studio.stages import ActionRefused


@transaction.atomic
def set_royalty_terms(unit: Unit, *, facts: dict[str, Any]) -> RoyaltyTerms:
    """Store the terms agreed from a day; the same day again replaces them.

    Raises ActionRefused for a day within a return already sent.
    """
    unit = lock_unit(unit)
    sent = unit.royalty_returns.order_by("-last_on").first()
    if sent and facts["valid_from"] <= sent.last_on:
        raise ActionRefused(
            f"The return to {units.full_day(sent.last_on)} was sent on the terms of then: "
            "choose a later day."
        )
    terms, _ = RoyaltyTerms.objects.update_or_create(
        unit=unit, valid_from=facts["valid_from"], defaults=facts
    )
    return terms


@transaction.atomic
def send_return(unit: Unit, *, last_on: date, by: User, at: datetime) -> RoyaltyReturn:
    """Freeze the next return and mark its papers as counted; repeating it returns the same return.

    Raises ActionRefused before the period is over, for any period but the next, without terms,
    and if VAT is due on a day for which no rate is recorded.
    """
    unit = lock_unit(unit)
    if earlier := unit.royalty_returns.filter(last_on=last_on).first():
        return earlier
    draft = _draft_to_send(unit, last_on, timezone.localdate(at))
    sent = RoyaltyReturn.objects.create(
        unit=unit,
        first_on=draft.first_on,
        last_on=draft.last_on,
        sent_at=at,
        by=by,
        payable_minor=draft.due.payable_minor,
        content=_frozen(draft.content()),
    )
    RoyaltyLine.objects.bulk_create(
        RoyaltyLine(
            unit=unit,
            sent_in=sent,
            source=taking.source,
            on=taking.on,
            gross_minor=taking.gross_minor,
            vat_minor=taking.vat_minor,
        )
        for taking in draft.takings
    )
    return sent


def _draft_to_send(unit: Unit, last_on: date, today: date) -> Draft:
    draft = draft_return(unit, today)
    if draft is None:
        raise ActionRefused("No royalty terms are written down yet.")
    if draft.last_on != last_on:
        raise ActionRefused(
            f"The next return ends on {units.full_day(draft.last_on)}: look at it again."
        )
    if not draft.is_over:
        raise ActionRefused(
            f"It can be sent from {units.full_day(draft.last_on)} on, when its days are over."
        )
    return draft


def _frozen(value: Any) -> Any:
    """Return the value as JSON data, days as ISO dates."""
    if isinstance(value, dict):
        return {key: _frozen(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_frozen(each) for each in value]
    return value.isoformat() if isinstance(value, date) else value
