"""The people of a test, its database, and the check that a page reads no more for many rows than for one."""

import hashlib
import os
import shutil
from pathlib import Path

import pytest
from django.conf import settings as django_settings
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from hypothesis import settings as hypothesis

from studio.roles import Role
from tests import makers

# A test never fails because the machine was busy.
hypothesis.register_profile("unhurried", deadline=None)
hypothesis.load_profile("unhurried")


# What takes a minute and more: begun last, it would leave one core waiting for the other.
LONG = {
    "test_drying_histories.py",
    "test_every_page.py",
    "test_lists.py",
    "test_loaded.py",
    "test_loading.py",
    "test_strangers.py",
    "test_tablet_two_engines.py",
    "test_whole_way.py",
}
DATABASE_FIXTURES = {"db", "transactional_db", "django_db_setup", "live_server"}


def pytest_collection_modifyitems(config, items):
    """Put long tests first; leave out, on PostgreSQL, those to which the database makes no difference: SQLite's run has done them."""
    items.sort(key=lambda item: item.path.name not in LONG)
    if connection.vendor == "sqlite":
        return
    without = [
        item
        for item in items
        if item.get_closest_marker("any_database")
        or (
            not item.get_closest_marker("django_db")
            and DATABASE_FIXTURES.isdisjoint(getattr(item, "fixturenames", ()))
        )
    ]
    config.hook.pytest_deselected(items=without)
    left_out = {id(item) for item in without}
    items[:] = [item for item in items if id(item) not in left_out]


def _migrated():
    """Where the empty SQLite database of these migrations is kept: making one takes half a minute."""
    root = django_settings.BASE_DIR
    digest = hashlib.sha256()
    for path in sorted(root.glob("*/migrations/*.py")):
        digest.update(path.read_bytes())
    return django_settings.VAR_DIR / f"migrated-{digest.hexdigest()[:16]}.sqlite3"


@pytest.fixture(scope="session")
def django_db_keepdb():
    """Tell pytest-django to go on with the database that lies there: see the next two."""
    return connection.vendor == "sqlite"


@pytest.fixture(scope="session")
def django_db_modify_db_settings(django_db_modify_db_settings_parallel_suffix):
    """Lay the migrated database where the test database is to be, in place of an earlier run's."""
    if connection.vendor == "sqlite":
        name = connection.settings_dict["TEST"]["NAME"]
        for path in map(Path, (name, f"{name}-wal", f"{name}-shm")):
            path.unlink(missing_ok=True)
        if _migrated().exists():
            shutil.copy(_migrated(), name)


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup, django_db_blocker):
    """Keep the database that has just been migrated, for the runs to come."""
    if connection.vendor == "sqlite" and not _migrated().exists():
        for old in _migrated().parent.glob("migrated-*.sqlite3"):
            old.unlink()
        made = f"{_migrated()}.{os.getpid()}"
        with django_db_blocker.unblock(), connection.cursor() as cursor:
            cursor.execute("VACUUM INTO %s", [made])
        Path(made).replace(_migrated())


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

    def counted(load):
        with CaptureQueriesContext(connection) as captured:
            load()
        return captured

    def check(load, grow):
        load()  # warm content types and caches
        before = counted(load)
        grow()
        after = counted(load)
        assert before.captured_queries, "the page read nothing: it would pass on an empty page"
        assert len(before) == len(after), "\n".join(q["sql"] for q in after.captured_queries)

    return check
