"""What a page works out from rows, kept in this process beside the very rows it was made of.

Nobody has to say that something changed. The rows are read at each look, by SQL that is put
together once; the same rows give back what was made of them, any others are worked out anew. So a
write by anybody, another web process, a new day or another setting can be forgotten nowhere: what
is made sees its facts alone (asking the database for more is refused), and what differs in one fact
is another thing.
"""

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from functools import lru_cache, update_wrapper
from threading import Lock, local
from typing import Any, Generic, NamedTuple, NoReturn, ParamSpec, TypeVar, cast

from django.db import connection
from django.db.models import Model, QuerySet

Row = tuple[Any, ...]
Asked = ParamSpec("Asked")
Facts = TypeVar("Facts")
Made = TypeVar("Made")
M = TypeVar("M", bound=Model)

STATEMENTS = 512
_STAND_IN = 10**12  # for a key in a statement; no table of ours counts so far
MOST = 4_000


class AskedMore(RuntimeError):
    """What is to be kept asked the database for more than its facts: it would go stale."""


class _Statement(NamedTuple):
    sql: str
    params: Row
    converters: dict[int, Any]


class Question(Generic[Asked]):
    """A read of values whose SQL is put together once.

    Made by `@question` from a function that returns `….values_list(…)`. Whole numbers among the
    arguments (keys, to filter by and for nothing else) are bound anew at each look; any others are
    part of the statement: give it days, never `now`.
    """

    def __init__(self, build: Callable[Asked, "QuerySet[Any, Any]"]) -> None:
        # The types of lru_cache do not follow those of what it keeps.
        stated = cast("Callable[..., _Statement]", lambda *args: _stated(cast(Any, build)(*args)))
        self._statement = lru_cache(maxsize=STATEMENTS)(stated)
        self._converters: dict[int, Any] = {}
        update_wrapper(self, build)

    def raw(self, *args: Asked.args, **_none: Asked.kwargs) -> list[Row]:
        """The rows as the driver gives them: to be compared, and converted by `read`. One query."""
        keys = {-(_STAND_IN + i): arg for i, arg in enumerate(args) if type(arg) is int}
        shape = [-(_STAND_IN + i) if type(arg) is int else arg for i, arg in enumerate(args)]
        statement = self._statement(*shape)
        self._converters = statement.converters  # of the columns, whatever the arguments
        return asked(statement.sql, tuple(keys.get(each, each) for each in statement.params))

    def read(self, rows: Iterable[Row]) -> list[list[Any]]:
        """Rows of `raw` in Python's types. No query."""
        found = [list(row) for row in rows]
        for place, (convert, expression) in self._converters.items():
            for row in found:
                for step in convert:
                    row[place] = step(row[place], expression, connection)
        return found

    def __call__(self, *args: Asked.args, **kwargs: Asked.kwargs) -> list[list[Any]]:
        """The rows in Python's types. One query."""
        return self.read(self.raw(*args, **kwargs))


def asked(sql: str, params: Row) -> list[Row]:
    """The rows as they stand; in one look (`one_look`) the same is asked once."""
    answers: dict[tuple[str, Row], list[Row]] | None = getattr(_look, "answers", None)
    if answers is not None and (sql, params) in answers:
        return answers[sql, params]
    with connection.cursor() as cursor:
        cursor.execute(sql, params)
        rows: list[Row] = cursor.fetchall()
    if answers is not None:
        answers[sql, params] = rows
    return rows


@contextmanager
def one_look(answers: dict[tuple[str, Row], list[Row]] | None) -> Iterator[None]:
    """While several read for one page and nobody writes: begin it with `{}`; None sees each anew."""
    before = getattr(_look, "answers", None)
    _look.answers = answers
    try:
        yield
    finally:
        _look.answers = before


_look = local()


def question(build: Callable[Asked, "QuerySet[Any, Any]"]) -> Question[Asked]:
    return Question(build)


def columns(model: type[Model], before: str = "") -> list[str]:
    """The names of all columns of `model` for `values_list`, as seen from `before`: "family__"."""
    return [f"{before}{field.attname}" for field in model._meta.concrete_fields]


def instance(model: type[M], values: Sequence[Any]) -> M | None:
    """The row that starts with `columns(model)`; None where an outer join found nothing."""
    names = [field.attname for field in model._meta.concrete_fields]
    if values[0] is None:
        return None
    return model.from_db(connection.alias, names, values[: len(names)])


def by_first(rows: Iterable[Row]) -> defaultdict[Any, list[Row]]:
    """Rows in lots of the same first value."""
    lots: defaultdict[Any, list[Row]] = defaultdict(list)
    for row in rows:
        lots[row[0]].append(row)
    return lots


class Kept(Generic[Facts, Made]):
    """What `make` made of the last facts of each slot, `most` slots of them in this process.

    `facts` are compared whole: rows, settings, the day, the name of the zone in which times are
    read. `make` gets nothing else, is a plain function without clock or query, and what it makes is
    shared by all who look: nobody changes it.
    """

    def __init__(self, make: Callable[[Facts], Made], most: int = MOST) -> None:
        self._make = make
        self._most = most
        self._slots: dict[Hashable, tuple[Facts, Made]] = {}
        self._lock = Lock()
        _all.append(self.forget)

    def of(self, slot: Hashable, facts: Facts) -> Made:
        found = self._slots.get(slot)
        if found is not None and found[0] == facts:
            return found[1]
        with connection.execute_wrapper(_refuse):
            made = self._make(facts)
        with self._lock:
            self._slots.pop(slot, None)  # the newest stand last
            self._slots[slot] = (facts, made)
            while len(self._slots) > self._most:
                del self._slots[next(iter(self._slots))]
        return made

    def forget(self) -> None:
        with self._lock:
            self._slots.clear()


def once(work: Callable[Asked, Made]) -> Callable[Asked, Made]:
    """Work out a plain function of hashable facts once, for the last few thousand of them."""
    kept = lru_cache(maxsize=MOST)(work)
    _all.append(kept.cache_clear)
    # Its arguments are those of `work`, which the types of lru_cache do not say.
    return cast("Callable[Asked, Made]", kept)


_all: list[Callable[[], None]] = []


def forgets(clear: Callable[[], None]) -> None:
    """Let `forget` clear one memory more."""
    _all.append(clear)


def forget() -> None:
    """As a process begins: nothing is kept. For tests and measurements; nothing else needs it."""
    for each in _all:
        each()


def _stated(rows: "QuerySet[Any, Any]") -> _Statement:
    compiler = rows.query.get_compiler(connection=connection)
    sql, params = compiler.as_sql()
    read = compiler.get_converters([column for column, _, _ in compiler.select])
    return _Statement(sql, tuple(params), read)


def _refuse(*_asked: Any) -> NoReturn:
    raise AskedMore("What is kept is made of its facts alone: put what it asks for among them.")
