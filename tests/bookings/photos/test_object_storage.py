"""Photographs in a bucket: the whole way of one over real sockets, by the client that a studio uses."""

import io
import uuid
from datetime import timedelta
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from bookings.consent import actions
from bookings.photos import actions as photos_actions
from bookings.photos.models import Photo
from bookings.tablet import photo_parts
from studio.web.private_files import photo_storage
from tests import makers
from tests.bookings.sending import Sending
from tests.studio.tablet.sending import Tablet
from tests.studio.web.object_storage import object_storage

pytestmark = pytest.mark.django_db

PHONE = Path(__file__).parent / "data" / "phone.heic"

SECRET = b"51.4816N-3.1791W"  # see data/README.md


@pytest.fixture
def bucket(settings, monkeypatch):
    monkeypatch.setenv("AWS_ACCESS_KEY_ID", "studio-key")
    monkeypatch.setenv("AWS_SECRET_ACCESS_KEY", "studio-secret")
    with object_storage("casts") as served:
        address = f"s3://casts/ashmouth?endpoint={served.endpoint}&region=eu-west-2"
        settings.STORAGES = settings.STORAGES | {"default": photo_storage(address)}
        yield served


@pytest.fixture
def job(unit, owner):
    made = makers.a_job(unit, pieces=2, by=owner.user)
    who = {"by": owner.user, "at": timezone.now()}
    actions.give_consent(made.family, purpose="keep", given_by="Sam", key=uuid.uuid4(), **who)
    return made


def names(bucket):
    return sorted(name.split("/")[1] for name in bucket.objects)


def test_a_photograph_of_a_tablet_is_kept_in_three_sizes_and_its_parts_go(bucket, owner, job):
    assert Sending(Tablet(owner), job).all().json()["state"] == "kept"
    photo = Photo.objects.get()
    assert {photo.file.name, photo.view.name, photo.thumb.name} == {
        name.removeprefix("ashmouth/") for name in bucket.objects
    }
    for kept in bucket.objects.values():
        assert kept.headers["x-amz-acl"] == "private"
        assert kept.headers["cache-control"] == "private, no-store"
        assert Image.open(io.BytesIO(kept.content)).format == "JPEG"
    assert {key for _, _, key in bucket.asked} == {"studio-key"}


def test_it_is_gone_on_with_from_where_it_was(bucket, owner, job):
    sending = Sending(Tablet(owner), job)
    have = sending.post(0).json()["have"]
    assert 0 < have == sending.have()["have"] < len(sending.raw)
    assert "tablet-parts" in names(bucket)
    assert sending.all().json()["state"] == "kept"
    assert "tablet-parts" not in names(bucket)


def test_a_part_that_was_cut_off_while_it_was_written_does_not_count(bucket, owner, job):
    sending = Sending(Tablet(owner), job)
    sending.post(0)
    (part,) = bucket.objects.values()
    part.content = part.content[:-1]
    assert sending.have()["have"] == 0


def test_what_nobody_went_on_with_is_swept(bucket, owner, job):
    Sending(Tablet(owner), job).post(0)
    assert photo_parts.delete_abandoned(timezone.now()) == 0
    assert (
        photo_parts.delete_abandoned(
            timezone.now() + photo_parts.ABANDONED_AFTER + timedelta(minutes=1)
        )
        == 1
    )
    assert bucket.objects == {}


def test_only_who_may_see_it_is_handed_it_out_of_the_bucket(bucket, owner, stranger, parent, job):
    Sending(Tablet(owner), job).all()
    url = reverse("bookings:photo", args=[Photo.objects.get().public_id])
    seen = owner.get(url)
    assert Image.open(io.BytesIO(b"".join(seen))).format == "JPEG"
    assert "no-store" in seen["Cache-Control"] or "private" in seen["Cache-Control"]
    assert stranger.get(url).status_code == 404
    assert parent.get(url).status_code == 302


def test_a_phones_place_never_comes_to_the_bucket(bucket, owner, job):
    raw = PHONE.read_bytes()
    assert SECRET in raw
    assert Sending(Tablet(owner), job, raw=raw).all().json()["state"] == "kept"
    for kept in bucket.objects.values():
        picture = Image.open(io.BytesIO(kept.content))
        assert not picture.getexif()
        assert b"Exif" not in kept.content
        assert SECRET not in kept.content


def test_what_is_erased_is_gone_from_the_bucket(
    bucket, owner, job, django_capture_on_commit_callbacks
):
    Sending(Tablet(owner), job).all()
    who = {"by": owner.user, "at": timezone.now()}
    consent = job.family.consents.in_force().get(purpose="keep")
    actions.withdraw_consent(consent, key=uuid.uuid4(), **who)
    with django_capture_on_commit_callbacks(execute=True):
        photos_actions.erase_photos(job.family, key=uuid.uuid4(), **who)
    assert bucket.objects == {}


def test_files_of_no_photograph_are_tidied_away(bucket, owner, job):
    Sending(Tablet(owner), job).all()
    held = set(bucket.objects)
    default_storage.save("photos/left-over.jpg", ContentFile(b"x"))
    left_over = (set(bucket.objects) - held).pop()
    bucket.objects[left_over].at -= timedelta(days=30)
    call_command("tidy_photos")
    assert set(bucket.objects) == held


def test_a_large_file_goes_in_parts_and_comes_back_whole(bucket):
    content = bytes(range(256)) * 40_000
    name = default_storage.save("photos/large.bin", ContentFile(content))
    assert default_storage.size(name) == len(content)
    with default_storage.open(name, "rb") as file:
        assert file.read() == content
    assert bucket.parts == {}
