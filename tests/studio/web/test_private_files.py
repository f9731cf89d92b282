"""CASTSTEAD_PHOTOS: a folder by default, a private bucket where one is named, a sentence otherwise."""

import pytest
from django.core.files.storage import FileSystemStorage, storages
from storages.backends.s3 import S3Storage

from studio.web.private_files import photo_storage

BUCKET = "s3://caststead-photos/ashmouth/?endpoint=https://objects.example.com&region=eu-west-2"


@pytest.fixture
def storage(settings):
    def storage(address):
        settings.STORAGES = settings.STORAGES | {"default": photo_storage(address)}
        return storages["default"]

    return storage


def test_without_an_address_a_folder_of_this_machine(storage):
    assert isinstance(storage(""), FileSystemStorage)


def test_a_bucket_is_private_and_never_overwritten(storage):
    kept = storage(BUCKET)
    assert isinstance(kept, S3Storage)
    assert (kept.bucket_name, kept.location) == ("caststead-photos", "ashmouth")
    assert (kept.endpoint_url, kept.region_name) == ("https://objects.example.com", "eu-west-2")
    assert (kept.default_acl, kept.querystring_auth) == ("private", True)
    assert not kept.file_overwrite
    assert kept.get_object_parameters("photos/a.jpg")["CacheControl"] == "private, no-store"


def test_a_bucket_alone_is_enough(storage):
    kept = storage("s3://photos")
    assert (kept.bucket_name, kept.location, kept.endpoint_url) == ("photos", "", None)


@pytest.mark.parametrize(
    "address",
    [
        "photos",
        "/srv/photos",
        "https://objects.example.com/photos",
        "s3://",
        "s3:///folder",
        "s3://key:secret@photos",
        "s3://photos?acl=public-read",
        "s3://photos?endpoint=",
    ],
)
def test_another_address_is_a_sentence_with_an_example(address):
    with pytest.raises(ValueError, match=r"CASTSTEAD_PHOTOS .* s3://caststead-photos"):
        photo_storage(address)
