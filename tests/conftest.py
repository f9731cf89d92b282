"""The people of a test, and the check that a page reads no more for many rows than for one."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from hypothesis import settings as hypothesis

from studio import kept
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
    """`check(load, grow)`: loading reads something, and no more after `grow()` added rows.

    Neither the first time, nor where what was worked out is kept already.
    """

    def counted(load):
        kept.forget()
        for _ in range(2):
            with CaptureQueriesContext(connection) as captured:
                load()
            yield captured

    def check(load, grow):
        load()  # warm content types and caches
        few = list(counted(load))
        grow()
        for before, after in zip(few, counted(load), strict=True):
            assert before.captured_queries, "the page read nothing: it would pass on an empty page"
            assert len(before) == len(after), "\n".join(q["sql"] for q in after.captured_queries)

    return check
