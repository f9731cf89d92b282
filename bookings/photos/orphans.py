"""Consistency of photograph files and rows; reads only file names from the storage."""

from datetime import datetime, timedelta

from django.core.files.storage import default_storage

from bookings.photos.models import Photo

FOLDER = "photos"

# A file is saved before its row: a younger one may belong to an upload in progress.
ORPHAN_AFTER = timedelta(days=1)


def orphaned_files(now: datetime) -> list[str]:
    """List files older than a day without a row: failed uploads, or deletions that the storage did not carry out."""
    named = _files_in_rows()
    return sorted(
        name
        for name in _files_in_storage() - named
        if default_storage.get_modified_time(name) < now - ORPHAN_AFTER
    )


def photos_without_file() -> list[Photo]:
    """List photographs whose file is missing, as after restoring a back-up without the files."""
    stored = _files_in_storage()
    return [photo for photo in Photo.objects.with_job() if not stored.issuperset(photo.file_names)]


def photos_without_sizes() -> list[Photo]:
    """List photographs stored before there were sizes."""
    return list(Photo.objects.filter(thumb=""))


def _files_in_rows() -> set[str]:
    rows = Photo.objects.values_list("file", "view", "thumb")
    return {name for names in rows.iterator() for name in names if name}


def _files_in_storage() -> set[str]:
    try:
        _, files = default_storage.listdir(FOLDER)
    except FileNotFoundError:  # before the first photograph
        return set()
    return {f"{FOLDER}/{name}" for name in files if name}
