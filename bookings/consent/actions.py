"""Actions of consent: give and withdraw it for one purpose."""

from datetime import datetime
from uuid import UUID

from django.db import transaction

from bookings.consent import wording
from bookings.consent.models import Consent
from studio.accounts.models import User
from studio.families.models import Family
from studio.stages import ActionRefused


@transaction.atomic
def give_consent(
    family: Family,
    *,
    purpose: str,
    given_by: str,
    wording_version: str = "",
    by: User | None,
    at: datetime,
    key: UUID,
) -> Consent:
    """Record a family's consent for a purpose, with the wording in which it was asked.

    `wording_version` is needed only for an earlier wording: a tablet may have asked in that.
    Raises ActionRefused without a name, for an unknown purpose or wording, or if consent for this
    purpose is in force already.
    """
    lock_family(family)
    if earlier := family.consents.filter(key=key).first():
        return earlier
    try:
        asked = wording.find_wording(purpose, wording_version)
    except KeyError:
        raise ActionRefused("There is no such question.") from None
    if not given_by.strip():
        raise ActionRefused("Write who said yes.")
    if family.consents.in_force().filter(purpose=purpose).exists():
        raise ActionRefused(f"The family’s yes stands already: {Consent.Purpose(purpose).label}.")
    return family.consents.create(
        purpose=purpose,
        wording=f"{asked.question} {asked.text}",
        wording_version=asked.version,
        given_by=given_by.strip(),
        given_at=at,
        recorded_by=by,
        key=key,
    )


@transaction.atomic
def withdraw_consent(consent: Consent, *, by: User | None, at: datetime, key: UUID) -> Consent:
    """Withdraw a consent, effective at once; does nothing if it is withdrawn already.

    Withdrawing the consent to keep photographs also withdraws that to show them.
    """
    lock_family(consent.family)
    consent.refresh_from_db()
    if consent.withdrawn_at is None:
        _withdraw(consent, by, at)
        if consent.purpose == Consent.Purpose.KEEP:
            for show in consent.family.consents.in_force().filter(purpose=Consent.Purpose.SHOW):
                _withdraw(show, by, at)
    return consent


def lock_family(family: Family) -> None:
    """Lock a family's row until the end of the transaction, so that its latest consent is seen."""
    Family.objects.select_for_update(no_key=True).get(pk=family.pk)


def _withdraw(consent: Consent, by: User | None, at: datetime) -> None:
    # A tablet's clock that runs behind must not leave the consent in force.
    consent.withdrawn_at = max(at, consent.given_at)
    consent.withdrawn_by = by
    consent.save(update_fields=["withdrawn_at", "withdrawn_by"])
