"""What a function made of its reads of the database, kept in this process beside those very reads.

For work of many query sets that nobody wants to write anew as `studio.kept` would have it: all that
the function asked is written down with the answers as it runs. At the next look the same is asked
again, without putting SQL together and without instances; if every answer is the same, so is what
the function makes of them. It knows no clock and no settings but its arguments.
"""

from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import update_wrapper
from threading import Lock
from typing import Any, Generic, ParamSpec, TypeVar

from django.db import connection
from django.db.models import Model
from django.utils import timezone

from studio.kept import Row, asked, forgets, one_look

Asked = ParamSpec("Asked")
Made = TypeVar("Made")

MOST = 500


class NotARead(RuntimeError):
    """Work that is watched only reads: this would be left undone where its answers are kept."""


@dataclass(slots=True)
class _Reading:
    sql: str
    params: Row
    rows: list[Row] = field(default_factory=list)
    to_the_end: bool = False

    def holds(self) -> bool:
        """Whether the database still gives the rows that were read."""
        rows = asked(self.sql, self.params)
        return rows == self.rows if self.to_the_end else rows[: len(self.rows)] == self.rows


class Watched(Generic[Asked, Made]):
    """A function whose result is kept for its arguments until one of its reads differs.

    Made by `@watched`. Arguments are plain and hashable: keys and days, no rows and never `now`. The
    zone in which times are read is one more by itself. What it gives is shared: nobody changes it.
    """

    def __init__(self, work: Callable[Asked, Made]) -> None:
        self._work = work
        self._slots: dict[Hashable, tuple[list[_Reading], Made]] = {}
        self._lock = Lock()
        update_wrapper(self, work)
        forgets(self.forget)

    def __call__(self, *args: Asked.args, **kwargs: Asked.kwargs) -> Made:
        if any(isinstance(each, Model) for each in args):
            raise TypeError("A row may differ from what the database holds: give its key.")
        slot = (timezone.get_current_timezone_name(), *args, *sorted(kwargs.items()))
        found = self._slots.get(slot)
        if found is not None:
            readings, made = found
            if all(reading.holds() for reading in readings):
                return made
        readings = []
        with one_look(None), _written_down(readings):
            made = self._work(*args, **kwargs)
        with self._lock:
            self._slots.pop(slot, None)  # the newest stand last
            self._slots[slot] = (readings, made)
            while len(self._slots) > MOST:
                del self._slots[next(iter(self._slots))]
        return made

    def forget(self) -> None:
        with self._lock:
            self._slots.clear()


def watched(work: Callable[Asked, Made]) -> Watched[Asked, Made]:
    return Watched(work)


class _Listening:
    """A cursor that writes down what is asked and what is answered."""

    def __init__(self, cursor: Any, readings: list[_Reading]) -> None:
        self._cursor = cursor
        self._readings = readings

    def execute(self, sql: str, params: Any = None) -> Any:
        if not sql.startswith(("SELECT", "(SELECT", "WITH")):
            raise NotARead(sql[:80])
        self._reading = _Reading(sql, tuple(params or ()))
        self._readings.append(self._reading)
        return self._cursor.execute(sql, params)

    def executemany(self, sql: str, params: Any) -> Any:
        raise NotARead(sql[:80])

    def callproc(self, name: str, *params: Any) -> Any:
        raise NotARead(name)

    def fetchone(self) -> Row | None:
        row: Row | None = self._cursor.fetchone()
        self._note([] if row is None else [row])
        return row

    def fetchmany(self, *size: int) -> list[Row]:
        return self._note(self._cursor.fetchmany(*size))

    def fetchall(self) -> list[Row]:
        rows = self._note(self._cursor.fetchall())
        self._reading.to_the_end = True
        return rows

    def __iter__(self) -> Iterator[Row]:
        return iter(self.fetchall())

    def __enter__(self) -> "_Listening":
        return self

    def __exit__(self, *ended: Any) -> None:
        self._cursor.__exit__(*ended)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._cursor, name)

    def _note(self, rows: list[Row]) -> list[Row]:
        self._reading.rows += rows
        self._reading.to_the_end = self._reading.to_the_end or not rows
        return rows


@contextmanager
def _written_down(readings: list[_Reading]) -> Iterator[None]:
    """Write down all reads of this thread's connection."""
    before = {name: getattr(connection, name) for name in ("make_cursor", "make_debug_cursor")}
    for name, make in before.items():
        setattr(connection, name, lambda cursor, make=make: _Listening(make(cursor), readings))
    try:
        yield
    finally:
        for name, make in before.items():
            setattr(connection, name, make)
