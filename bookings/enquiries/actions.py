"""Actions of enquiries: record, send to a unit, and answer them."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from bookings.enquiries.models import Enquiry
from studio.accounts.models import Unit
from studio.families.actions import add_family
from studio.families.models import Family
from studio.jobs.job_action import unit_action
from studio.stages import ActionRefused


@unit_action("enquiries")
def take_enquiry(unit: Unit, *, facts: Mapping[str, Any], at: datetime, key: UUID) -> Enquiry:
    """Record an enquiry (`facts`: fields of Enquiry).

    Raises ActionRefused with neither a phone number nor an e-mail address.
    """
    if not facts.get("phone") and not facts.get("email"):
        raise ActionRefused("Write a telephone number or an e-mail address to answer to.")
    return unit.enquiries.create(**facts, received_at=at, key=key)


def send_enquiry(unit: Unit, *, facts: Mapping[str, Any], at: datetime, key: UUID) -> Enquiry:
    """Record an enquiry that the network office sends to a unit. Raises like `take_enquiry`."""
    return take_enquiry(unit, facts={**facts, "source": Enquiry.Source.OFFICE}, at=at, key=key)


@transaction.atomic
def answer_with_family(enquiry: Enquiry, *, family: Family, at: datetime) -> Enquiry:
    """Link an enquiry to an existing family; does nothing if it is linked to it already.

    Raises ActionRefused if it has another answer, or for a family of another unit.
    """
    locked = _lock(enquiry)
    if locked.family_id == family.pk:
        return locked
    if family.unit_id != locked.unit_id:
        raise ActionRefused("This family belongs to another studio.")
    return _answer(locked, Enquiry.Answer.FAMILY, family=family, at=at)


@transaction.atomic
def answer_with_new_family(enquiry: Enquiry, *, facts: Mapping[str, Any], at: datetime) -> Enquiry:
    """Add a new family (`facts`: fields of Family) for an enquiry, once. Raises ActionRefused if it was declined."""
    locked = _lock(enquiry)
    if locked.answer == Enquiry.Answer.FAMILY:
        return locked
    _refuse_answered(locked)
    family = add_family(locked.unit, facts=facts)
    return _answer(locked, Enquiry.Answer.FAMILY, family=family, at=at)


@transaction.atomic
def decline_enquiry(enquiry: Enquiry, *, why: str, at: datetime) -> Enquiry:
    """Decline an enquiry. Raises ActionRefused without a reason or if it has become a family."""
    locked = _lock(enquiry)
    if locked.answer == Enquiry.Answer.DECLINED:
        return locked
    if not why.strip():
        raise ActionRefused("Write why it came to nothing.")
    return _answer(locked, Enquiry.Answer.DECLINED, why=why.strip(), at=at)


def _lock(enquiry: Enquiry) -> Enquiry:
    return Enquiry.objects.select_for_update().get(pk=enquiry.pk)


def _answer(
    enquiry: Enquiry,
    answer: Enquiry.Answer,
    *,
    at: datetime,
    family: Family | None = None,
    why: str = "",
) -> Enquiry:
    _refuse_answered(enquiry)
    enquiry.answer, enquiry.answered_at = answer, at
    enquiry.family, enquiry.answer_why = family, why
    enquiry.save(update_fields=["answer", "answered_at", "family", "answer_why"])
    return enquiry


def _refuse_answered(enquiry: Enquiry) -> None:
    if enquiry.answer:
        raise ActionRefused(
            f"The enquiry of {enquiry.name} is answered already: it {enquiry.get_answer_display()}."
        )
