"""A family's word, given and taken back; and the photographs that rest on it."""

from datetime import datetime
from uuid import UUID, uuid4

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import transaction

from bookings import wording
from bookings.models import Consent, Photo
from bookings.photos import Clean
from bookings.queries import keeps_photos
from studio.actions import ActionRefused, lock_job, record, refuse_closed
from studio.models import Family, Job, Piece, User


@transaction.atomic
def give_consent(
    family: Family, *, purpose: str, given_by: str, by: User | None, at: datetime, key: UUID
) -> Consent:
    """Write down who said yes to what, with the words that were asked.

    Raises ActionRefused without a name, for an unknown purpose, or while a yes stands.
    """
    _hold(family)
    if earlier := family.consents.filter(key=key).first():
        return earlier
    if purpose not in wording.WORDINGS:
        raise ActionRefused("There is no such question.")
    if not given_by.strip():
        raise ActionRefused("Write who said yes.")
    if family.consents.standing().filter(purpose=purpose).exists():
        raise ActionRefused(f"The family’s yes stands already: {Consent.Purpose(purpose).label}.")
    asked = wording.of(purpose)
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
    """Take a yes back: it counts at once, and twice is once. The row keeps both days."""
    _hold(consent.family)
    consent.refresh_from_db()
    if consent.withdrawn_at is None:
        # A clock that runs behind must never keep a yes standing.
        consent.withdrawn_at = max(at, consent.given_at)
        consent.save(update_fields=["withdrawn_at"])
    return consent


def add_photo(
    job: Job,
    *,
    clean: Clean,
    kind: str,
    piece: Piece | None = None,
    by: User,
    at: datetime,
    key: UUID,
) -> Photo:
    """Keep a cleaned photograph of a job. The file is written before the transaction, and goes
    again if the row cannot be.

    Raises ActionRefused while the family has not said yes, or for another job's piece;
    MoveRefused on an ended job.
    """
    name = default_storage.save(f"photos/{uuid4()}.jpg", ContentFile(clean.jpeg))
    kept = False
    try:
        photo = _photo_row(
            job, name=name, clean=clean, kind=kind, piece=piece, by=by, at=at, key=key
        )
        kept = photo.file.name == name
        return photo
    finally:
        if not kept:
            default_storage.delete(name)


@transaction.atomic
def _photo_row(
    job: Job,
    *,
    name: str,
    clean: Clean,
    kind: str,
    piece: Piece | None,
    by: User,
    at: datetime,
    key: UUID,
) -> Photo:
    locked = lock_job(job)
    if earlier := locked.photos.filter(key=key).first():
        return earlier
    refuse_closed(locked)
    # The family's row is held, so that a withdrawal a moment ago is seen.
    _hold(locked.family)
    if not keeps_photos(locked.family):
        raise ActionRefused(
            "The family has not agreed to photographs being kept, so this one was not. Ask first."
        )
    if piece and piece.job_id != locked.pk:
        raise ActionRefused("This piece belongs to another job.")
    photo = locked.photos.create(
        unit=locked.unit,
        piece=piece,
        kind=kind,
        file=name,
        width_px=clean.width_px,
        height_px=clean.height_px,
        taken_at=at,
        by=by,
        key=key,
    )
    record(locked, what="add_photo", by=by, at=at, key=key, why=str(piece or ""))
    return photo


def _hold(family: Family) -> None:
    Family.objects.select_for_update(no_key=True).get(pk=family.pk)
