"""Where photographs are kept: sizes made later, files without a row, any storage that Django knows."""

import io
import os
import time
import uuid
from datetime import timedelta

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import InMemoryStorage, default_storage
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from bookings.consent import actions as consent_actions
from bookings.photos import actions, cleaning, orphans
from bookings.photos.models import Photo
from tests import makers


class FarAway(InMemoryStorage):
    """Like a bucket: its files have no path on this machine, and ours have no public address."""

    def path(self, name):
        raise NotImplementedError  # as Django's own base class does: there is no path

    def _relative_path(self, name):
        return name

    def url(self, name):
        raise NotImplementedError  # nor a public address


@pytest.fixture
def add(doing, family, sitting):
    doing.consent(family)

    def add(width=640):
        clean = cleaning.clean(io.BytesIO(makers.a_jpeg(width)))
        return actions.add_photo(sitting.job, clean=clean, kind="sitting", **doing.who())

    return add


def tidy(*options):
    said = io.StringIO()
    call_command("tidy_photos", *options, stdout=said, stderr=said)
    return said.getvalue()


def aged(name, age):
    """The file as if written `age` ago."""
    then = time.time() - age.total_seconds()
    os.utime(default_storage.path(name), (then, then))


def old_row(photo):
    """A photograph as it was kept before there were sizes."""
    for field in (photo.view, photo.thumb):
        default_storage.delete(field.name)
    Photo.objects.filter(pk=photo.pk).update(view="", thumb="")
    photo.refresh_from_db()
    return photo


def bytes_of(field):
    with field.open("rb") as file:
        return file.read()


def size_of(field):
    return Image.open(io.BytesIO(bytes_of(field))).size


class TestTidying:
    def test_older_photographs_get_their_sizes_once(self, add):
        photo = old_row(add(2000))
        before = bytes_of(photo.file)
        assert "To be given their sizes: 1." in tidy("--look")
        assert "Given their sizes: 1." in tidy()
        photo.refresh_from_db()
        sizes = [size_of(field) for field in (photo.view, photo.thumb)]
        assert sizes == [photo.view_size, photo.thumb_size] == [(1200, 288), (320, 77)]
        assert bytes_of(photo.file) == before
        names = photo.file_names
        assert "Given their sizes: 0." in tidy()
        photo.refresh_from_db()
        assert photo.file_names == names

    def test_a_photograph_given_sizes_meanwhile_leaves_no_second_files(self, add):
        photo = add()
        actions.make_sizes(photo)
        assert len(default_storage.listdir("photos")[1]) == 3

    def test_a_file_of_no_photograph_goes_after_a_day(self, add):
        photo = add()
        for name, age in (("old", timedelta(hours=25)), ("young", timedelta(hours=23))):
            default_storage.save(f"photos/{name}.jpg", ContentFile(b"x"))
            aged(f"photos/{name}.jpg", age)
        for name in photo.file_names:
            aged(name, timedelta(days=400))
        assert orphans.orphaned_files(timezone.now()) == ["photos/old.jpg"]
        assert "To be deleted, belonging to no photograph: 1." in tidy("--look")
        assert default_storage.exists("photos/old.jpg")
        tidy()
        left = set(default_storage.listdir("photos")[1])
        assert left == {"young.jpg", *(name.split("/")[1] for name in photo.file_names)}

    def test_a_photograph_without_its_file_is_named(self, add):
        photo = add()
        assert "gone" not in tidy()
        default_storage.delete(photo.file.name)
        assert orphans.photos_without_file() == [photo]
        assert f"Its file is gone: {photo}" in tidy()

    def test_a_broken_file_is_said_and_stops_nothing(self, add):
        broken, whole = old_row(add()), old_row(add())
        default_storage.delete(broken.file.name)
        default_storage.save(broken.file.name, ContentFile(b"no picture"))
        assert "no sizes made" in tidy()
        whole.refresh_from_db()
        assert whole.thumb.name

    def test_an_empty_studio_has_nothing_to_tidy(self, db):
        assert "Given their sizes: 0." in tidy()


class TestAnyStorage:
    """Whatever leaned on a path or an address of a file would fail here."""

    @pytest.fixture(autouse=True)
    def far_away(self, settings, tmp_path):
        there = {"BACKEND": f"{__name__}.FarAway"}
        settings.STORAGES = settings.STORAGES | {"default": there}
        yield
        assert not (tmp_path / "media").exists()

    def test_a_photograph_is_sent_shown_in_all_sizes_and_erased(
        self, owner, doing, family, sitting, django_capture_on_commit_callbacks
    ):
        consent = doing.consent(family)
        owner.post(
            reverse("bookings:add_photo", args=[sitting.job.reference]),
            {"key": uuid.uuid4(), "kind": "finished", "photo": io.BytesIO(makers.a_jpeg(3000))},
        )
        photo = Photo.objects.get()
        url = reverse("bookings:photo", args=[photo.public_id])
        widths = [
            Image.open(io.BytesIO(b"".join(owner.get(url, {"size": size}).streaming_content))).width
            for size in ("full", "view", "thumb")
        ]
        assert widths == [2400, 1200, 320]
        consent_actions.withdraw_consent(consent, **doing.who())
        with django_capture_on_commit_callbacks(execute=True):
            actions.erase_photos(family, **doing.who())
        assert default_storage.listdir("photos")[1] == []

    def test_older_photographs_get_their_sizes(self, add):
        photo = old_row(add())
        tidy()
        photo.refresh_from_db()
        assert size_of(photo.thumb) == photo.thumb_size == (320, 240)
