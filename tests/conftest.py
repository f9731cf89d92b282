"""The people of a test, and the check that a page reads no more for many rows than for one."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from hypothesis import settings as hypothesis

from studio.models import Role
from tests import makers

# A test never fails because the machine was busy.
hypothesis.register_profile("unhurried", deadline=None)
hypothesis.load_profile("unhurried")


@pytest.fixture(autouse=True)
def quick_and_private(settings, tmp_path):
    """Cheap password hashes, plain http, and files that end with the test."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.MEDIA_ROOT = tmp_path / "media"
    settings.STORAGES = settings.STORAGES | {
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
    }


@pytest.fixture
def unit(db):
    return makers.a_unit()


@pytest.fixture
def owner(unit):
    """A browser in which the unit's owner is logged in; `owner.user` is the person."""
    return _logged_in(unit, Role.OWNER)


@pytest.fixture
def helper(unit):
    return _logged_in(unit, Role.HELPER)


@pytest.fixture
def office(unit):
    return _logged_in(unit, Role.OFFICE)


@pytest.fixture
def stranger(db):
    """The owner of another unit."""
    return _logged_in(makers.a_unit(name="Elsewhere Casts"), Role.OWNER)


@pytest.fixture
def parent():
    """A browser in which nobody is logged in."""
    return Client()


def _logged_in(unit, role):
    client = Client()
    client.user = makers.a_person(unit, role)
    client.force_login(client.user)
    return client


@pytest.fixture
def constant_queries():
    """`check(load, grow)`: loading reads something, and no more after `grow()` added rows."""

    def check(load, grow):
        load()  # warm content types and caches
        with CaptureQueriesContext(connection) as few:
            load()
        grow()
        with CaptureQueriesContext(connection) as many:
            load()
        assert few.captured_queries, "the page read nothing: the check would pass on an empty page"
        assert len(few) == len(many), "\n".join(q["sql"] for q in many.captured_queries)

    return check
