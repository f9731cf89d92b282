"""Actions of photographs, which need the family's consent: add, erase, and make missing sizes."""

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID, uuid4, uuid5

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import transaction

from bookings.consent.actions import lock_family
from bookings.consent.permissions import may_keep_photos
from bookings.event_words import Erased
from bookings.photos.cleaning import CleanPhoto, resize
from bookings.photos.models import Photo
from studio.accounts.models import User
from studio.families.models import Family
from studio.jobs.job_action import JobAction, job_action, record, refuse_closed
from studio.jobs.models import Job, JobEvent, Piece
from studio.stages import ActionRefused


def add_photo(
    job: Job,
    *,
    clean: CleanPhoto,
    kind: str,
    piece: Piece | None = None,
    by: User,
    at: datetime,
    key: UUID,
) -> Photo:
    """Store a cleaned photograph of a job.

    Its files are written before the transaction, and deleted again if it fails. Raises
    ActionRefused without the family's consent, for another job's piece, or for a photograph that
    was erased since; MoveRefused on an ended job.
    """
    written: dict[str, str] = {}
    kept = False
    try:
        _write_files(clean, written)
        photo = _photo_row(
            job, files=written, clean=clean, kind=kind, piece=piece, by=by, at=at, key=key
        )
        kept = photo.file.name == written["file"]
        return photo
    finally:
        if not kept:
            _delete_files(written.values())


def _earlier_photo(job: Job, earlier: JobEvent) -> Photo:
    if photo := job.photos.filter(key=earlier.key).first():
        return photo
    raise ActionRefused("This photograph was kept and has been erased since. Take a new one.")


@job_action(_earlier_photo, what="add_photo")
def _photo_row(
    act: JobAction,
    job: Job,
    *,
    files: dict[str, str],
    clean: CleanPhoto,
    kind: str,
    piece: Piece | None,
    by: User,
    at: datetime,
    key: UUID,
) -> Photo:
    locked = act.job
    refuse_closed(locked)
    lock_family(locked.family)
    if not may_keep_photos(locked.family):
        raise ActionRefused(
            "The family has not agreed to photographs being kept, so this one was not. Ask first."
        )
    if piece and piece.job_id != locked.pk:
        raise ActionRefused("This piece belongs to another job.")
    photo = locked.photos.create(
        unit=locked.unit,
        piece=piece,
        kind=kind,
        **files,
        width_px=clean.width_px,
        height_px=clean.height_px,
        taken_at=at,
        by=by,
        key=key,
    )
    act.record(subject=piece)
    return photo


@transaction.atomic
def erase_photos(family: Family, *, by: User, at: datetime, key: UUID) -> list[JobEvent]:
    """Erase all photographs of a family that withdrew its consent to keep them, rows and files.

    Each of its jobs with photographs gets an event with their number. The files are deleted after
    the rows; files that the storage fails to delete are found by `manage.py tidy_photos`.
    Raises ActionRefused while the consent is in force, or if there is nothing to erase.
    """
    jobs = list(family.jobs.select_for_update().order_by("pk"))
    lock_family(family)
    keys = {job.pk: uuid5(key, job.reference) for job in jobs}
    if earlier := list(JobEvent.objects.filter(job__in=jobs, key__in=keys.values())):
        return earlier
    if may_keep_photos(family):
        raise ActionRefused("The family lets us keep its photographs: none was erased.")
    found = list(Photo.objects.filter(job__in=jobs))
    if not found:
        raise ActionRefused("There is no photograph of this family to erase.")
    names = [name for photo in found for name in photo.file_names]
    counts = {job: sum(photo.job_id == job.pk for photo in found) for job in jobs}
    Photo.objects.filter(pk__in=[photo.pk for photo in found]).delete()
    transaction.on_commit(lambda: _delete_files(names), robust=True)
    return [
        record(job, what="erase_photos", by=by, at=at, key=keys[job.pk], facts=Erased(count))
        for job, count in counts.items()
        if count
    ]


def make_sizes(photo: Photo) -> Photo:
    """Make the view and thumb of a photograph stored before there were sizes.

    Raises FileNotFoundError if its file is missing, PhotoRefused if it is not a picture.
    """
    with photo.file.open("rb") as file:
        clean = resize(file.read())
    stem = f"photos/{uuid4()}"
    view = default_storage.save(f"{stem}-view.jpg", ContentFile(clean.view))
    thumb = default_storage.save(f"{stem}-thumb.jpg", ContentFile(clean.thumb))
    if not Photo.objects.filter(pk=photo.pk, view="", thumb="").update(view=view, thumb=thumb):
        _delete_files([view, thumb])  # erased, or made, meanwhile
    photo.refresh_from_db(fields=["view", "thumb"])
    return photo


def _write_files(clean: CleanPhoto, written: dict[str, str]) -> None:
    """Write the files and add their names to `written` by field, even if a later one fails."""
    stem = f"photos/{uuid4()}"
    for field, ending, content in (
        ("file", "", clean.jpeg),
        ("view", "-view", clean.view),
        ("thumb", "-thumb", clean.thumb),
    ):
        written[field] = default_storage.save(f"{stem}{ending}.jpg", ContentFile(content))


def _delete_files(names: Iterable[str]) -> None:
    for name in names:
        default_storage.delete(name)
