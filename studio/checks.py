"""Django system checks of the database settings, each with an id and a hint."""

from collections.abc import Sequence
from typing import Any

from django.apps import AppConfig
from django.core import checks
from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connection

# 3.51.3 fixed a rare corruption of databases in write-ahead mode.
MIN_SQLITE = (3, 51, 3)


@register(Tags.database)
def check_sqlite_durability(
    app_configs: Sequence[AppConfig] | None = None,
    databases: Sequence[str] | None = None,
    **_kwargs: Any,
) -> list[CheckMessage]:
    """Check that SQLite cannot lose a write that has been confirmed to a tablet."""
    if not databases or connection.vendor != "sqlite":
        return []
    found: list[CheckMessage] = []
    with connection.cursor() as cursor:
        cursor.execute("SELECT sqlite_version()")
        version = cursor.fetchone()[0]
        pragmas = {}
        for name in ("journal_mode", "synchronous"):
            cursor.execute(f"PRAGMA {name}")
            pragmas[name] = str(cursor.fetchone()[0]).lower()
    if tuple(int(part) for part in version.split(".")) < MIN_SQLITE:
        found.append(
            checks.Warning(
                f"SQLite {version} has the write-ahead-log reset bug.",
                hint="Install the pinned requirements: pysqlite3 brings a sound SQLite.",
                id="studio.W001",
            )
        )
    if pragmas != {"journal_mode": "wal", "synchronous": "2"}:
        found.append(
            Error(
                f"The database runs with {pragmas}.",
                hint="Keep the OPTIONS of studio/settings.py: WAL with synchronous FULL.",
                id="studio.E002",
            )
        )
    return found
