"""Whether files and rows of photographs still belong together; asks the storage for names alone."""

from datetime import datetime, timedelta

from django.core.files.storage import default_storage

from bookings.models import Photo

FOLDER = "photos"
# A file comes before its row: what is younger may be a photograph on its way.
ORPHAN_AFTER = timedelta(days=1)


def orphans(now: datetime) -> list[str]:
    """Files that no row names and that are older than a day: an upload that ended half-way, or an
    erasure that the storage did not carry out."""
    named = _named()
    return sorted(
        name
        for name in _stored() - named
        if default_storage.get_modified_time(name) < now - ORPHAN_AFTER
    )


def without_file() -> list[Photo]:
    """Photographs whose file is gone, as after a back-up that was restored without its folder."""
    stored = _stored()
    return [photo for photo in Photo.objects.with_job() if not stored.issuperset(photo.file_names)]


def without_sizes() -> list[Photo]:
    return list(Photo.objects.filter(thumb=""))


def _named() -> set[str]:
    rows = Photo.objects.values_list("file", "view", "thumb")
    return {name for names in rows.iterator() for name in names if name}


def _stored() -> set[str]:
    try:
        _, files = default_storage.listdir(FOLDER)
    except FileNotFoundError:  # before the first photograph
        return set()
    return {f"{FOLDER}/{name}" for name in files if name}
