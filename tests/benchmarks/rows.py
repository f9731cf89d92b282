"""Millions of rows into the empty tables of the models, much faster than by instances."""

import gc
import json
import os
import uuid
from contextlib import contextmanager
from datetime import UTC
from itertools import count

from django.core.management.color import no_style
from django.db import connection, transaction

BATCH = 20_000


class Table:
    """Rows of one model: `add(...)` collects, every column left out takes the model's default."""

    def __init__(self, model):
        self.model = model
        self._numbers = count(1)
        self._rows = []
        fields = model._meta.concrete_fields
        self._names = {field.attname for field in fields}
        self._plan = [(field.attname, _default_of(field)) for field in fields]
        self._writers = [_writer_of(field) for field in fields]
        self._columns = ", ".join(connection.ops.quote_name(field.column) for field in fields)
        self._name = connection.ops.quote_name(model._meta.db_table)

    def add(self, **values):
        """Collect a row; returns its primary key."""
        if strange := values.keys() - self._names:
            raise TypeError(f"{self.model.__name__} has no {', '.join(sorted(strange))}")
        number = values.setdefault("id", next(self._numbers))
        self._rows.append([values[at] if at in values else default() for at, default in self._plan])
        if len(self._rows) >= BATCH:
            self.flush()
        return number

    def flush(self):
        if not self._rows:
            return
        columns = [
            values if write is None else map(write, values)
            for write, values in zip(self._writers, zip(*self._rows, strict=True), strict=True)
        ]
        rows = zip(*columns, strict=True)
        with connection.cursor() as cursor:
            if connection.vendor == "postgresql":
                with cursor.copy(f"COPY {self._name} ({self._columns}) FROM STDIN") as copy:
                    for row in rows:
                        copy.write_row(row)
            else:
                places = ", ".join(["%s"] * len(self._plan))
                cursor.executemany(
                    f"INSERT INTO {self._name} ({self._columns}) VALUES ({places})",  # noqa: S608
                    list(rows),
                )
        self._rows.clear()


@contextmanager
def quickly(*tables):
    """Everything added inside is in the database, and sound, when it ends."""
    sqlite = connection.vendor == "sqlite"
    with connection.cursor() as cursor:
        if sqlite:  # a benchmark's database may be lost to a power cut
            cursor.execute("PRAGMA synchronous=OFF")
            cursor.execute("PRAGMA cache_size=-500000")
    gc.disable()  # lists of tuples by the million hold no circle
    with connection.constraint_checks_disabled(), transaction.atomic():
        yield
        for table in tables:
            table.flush()
    gc.enable()
    connection.check_constraints()
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(
            no_style(), [table.model for table in tables]
        ):
            cursor.execute(statement)
        if sqlite:
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        else:
            cursor.execute("ANALYZE")  # what autovacuum does by itself; SQLite does not


def _default_of(field):
    """A function that gives the column its model's default."""
    if field.get_internal_type() == "UUIDField" and field.default is uuid.uuid4:
        return lambda: os.urandom(16).hex()  # both databases take it, in a third of the time
    if field.has_default() and callable(field.default):
        return field.default
    constant = field.get_default()
    return lambda: constant


def _writer_of(field):
    """What turns a value into the database's own; None where it is that already."""
    kind = field.get_internal_type()
    if kind == "JSONField":
        return json.dumps
    if connection.vendor == "sqlite" and kind == "DateTimeField":
        return _utc_text
    if connection.vendor == "sqlite" and kind == "DateField":
        return connection.ops.adapt_datefield_value
    return None


def _utc_text(at):
    return None if at is None else str(at.astimezone(UTC).replace(tzinfo=None))
