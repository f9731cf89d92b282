"""A family's word, given and taken back: purpose by purpose, with the words it was asked in."""

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
    """Write down who said yes to what, with the words that were asked.

    `wording_version` names the words where they are not those of today: a tablet may have asked
    in older ones. Raises ActionRefused without a name, for words or a purpose that nobody was
    asked in, or while a yes stands.
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
    """Take a yes back: it counts at once, and twice is once. The row keeps both days.

    What may not be kept may not be shown: taking back the one takes back the other.
    """
    lock_family(consent.family)
    consent.refresh_from_db()
    if consent.withdrawn_at is None:
        _end(consent, by, at)
        if consent.purpose == Consent.Purpose.KEEP:
            for shown in consent.family.consents.in_force().filter(purpose=Consent.Purpose.SHOW):
                _end(shown, by, at)
    return consent


def lock_family(family: Family) -> None:
    """The family's row, held until the transaction ends, so that a word a moment ago is heard."""
    Family.objects.select_for_update(no_key=True).get(pk=family.pk)


def _end(consent: Consent, by: User | None, at: datetime) -> None:
    # A clock that runs behind must never keep a yes standing.
    consent.withdrawn_at = max(at, consent.given_at)
    consent.withdrawn_by = by
    consent.save(update_fields=["withdrawn_at", "withdrawn_by"])
