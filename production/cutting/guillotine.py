"""The best filling of one sheet by cuts from edge to edge. Whole millimetres; kerf already added.

Unlimited parts: Gilmore & Gomory's recursion (1966) over the normal patterns, the lengths that sums
of parts reach; exact. Limited parts: rectangles are built from the bottom up, side by side or one on
the other, the most promising first (Viswanathan & Bagchi 1993), with that recursion as the bound.
"""

import heapq
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import count
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

# Rectangles looked at before the search ends with the best it has.
MOST_BUILT = 4000
# Above so many pairs of normal patterns the recursion would take more than a second or two.
MOST_STATES = 60_000


class Shape(NamedTuple):
    """A rectangle as it would lie, worth so much; `part` says of which part, turned or not."""

    width: int
    height: int
    value: int
    part: int


class Built(NamedTuple):
    """A rectangle of parts: one shape, or two rectangles side by side (or one on the other)."""

    width: int
    height: int
    value: int
    used: tuple[int, ...]
    shape: Shape | None = None
    halves: "tuple[Built, Built] | None" = None
    beside: bool = True


@dataclass(frozen=True)
class Field:
    """A sheet and the shapes that go on it: what is worth how much where any number may be used."""

    width: int
    height: int
    shapes: tuple[Shape, ...]

    @cached_property
    def xs(self) -> NDArray[np.int64]:
        return normal_patterns(self.width, [shape.width for shape in self.shapes])

    @cached_property
    def ys(self) -> NDArray[np.int64]:
        return normal_patterns(self.height, [shape.height for shape in self.shapes])

    @cached_property
    def inside(self) -> NDArray[np.int64]:
        """The most value in each rectangle `xs` × `ys`, any number of each shape."""
        xs, ys = self.xs, self.ys
        best = np.zeros((len(xs), len(ys)), dtype=np.int64)
        for shape in self.shapes:
            fits = best[xs >= shape.width][:, ys >= shape.height]
            best[len(xs) - len(fits) :, len(ys) - fits.shape[1] :] = np.maximum(fits, shape.value)
        for i in range(1, len(xs)):
            left = np.arange(1, i + 1)
            right = np.searchsorted(xs, xs[i] - xs[left], side="right") - 1
            column = np.maximum(best[i], (best[left] + best[right]).max(axis=0, initial=0))
            for j in range(1, len(ys)):
                below = np.arange(1, j + 1)
                above = np.searchsorted(ys, ys[j] - ys[below], side="right") - 1
                column[j] = max(column[j], int((column[below] + column[above]).max()))
            best[i] = column
        return best

    @cached_property
    def outside(self) -> NDArray[np.int64]:
        """The most that can join a rectangle `xs` × `ys` in the corner, round it or beyond."""
        xs, ys, inside = self.xs, self.ys, self.inside
        best = np.zeros_like(inside)
        for i in reversed(range(len(xs))):
            for j in reversed(range(len(ys))):
                us = np.arange(1, np.searchsorted(xs, self.width - xs[i], side="right"))
                vs = np.arange(1, np.searchsorted(ys, self.height - ys[j], side="right"))
                # Beside a taller neighbour some of the sheet above it is lost: grow at no gain.
                found = max(
                    int(best[i + 1, j]) if i + 1 < len(xs) else 0,
                    int(best[i, j + 1]) if j + 1 < len(ys) else 0,
                )
                if len(us):
                    onward = np.searchsorted(xs, xs[i] + xs[us])
                    found = max(found, int((inside[us, j] + best[onward, j]).max()))
                if len(vs):
                    onward = np.searchsorted(ys, ys[j] + ys[vs])
                    found = max(found, int((inside[i, vs] + best[i, onward]).max()))
                best[i, j] = found
        return best

    @property
    def states(self) -> int:
        return len(self.xs) * len(self.ys)


def normal_patterns(length: int, sides: Iterable[int]) -> NDArray[np.int64]:
    """0 and every sum of sides up to `length`."""
    reached = np.zeros(length + 1, dtype=np.bool_)
    reached[0] = True
    for side in sorted(set(sides)):
        for at in range(side, length + 1):
            reached[at] |= reached[at - side]
    return np.flatnonzero(reached)


def fill_freely(field: Field) -> Built:
    """The best filling with any number of each shape, proven."""
    return _read(field, len(field.xs) - 1, len(field.ys) - 1)


def fill(field: Field, copies: Sequence[int], most_built: int = MOST_BUILT) -> tuple[Built, bool]:
    """The best filling with at most so many of each part, and whether it is proven to be the best."""
    free = fill_freely(field)
    if all(used <= most for used, most in zip(free.used, copies, strict=True)):
        return free, True
    limits = np.array(copies, dtype=np.int64)
    search, done = _Search(field, len(copies)), _Done(len(copies), most_built)
    for shape in field.shapes:
        used = tuple(int(part == shape.part) for part in range(len(copies)))
        if copies[shape.part] and shape.width <= field.width and shape.height <= field.height:
            search.offer(Built(shape.width, shape.height, shape.value, used, shape))
    while len(done.built) < most_built and (built := search.most_promising()):
        done.add(built)
        for joined in done.joined(field, built, limits):
            search.offer(joined)
    return search.best, search.most_promising() is None


class _Search:
    """The rectangles still to be looked at, the most promising first."""

    def __init__(self, field: Field, parts: int) -> None:
        self.field = field
        self.best = Built(0, 0, 0, (0,) * parts)
        self._waiting: list[tuple[int, int, Built]] = []
        self._seen: set[tuple[int, int, tuple[int, ...]]] = set()
        self._order = count()

    def offer(self, built: Built) -> None:
        if (key := (built.width, built.height, built.used)) in self._seen:
            return
        self._seen.add(key)
        if built.value > self.best.value:
            self.best = built
        promise = built.value + _around(self.field, built)
        if promise > self.best.value:
            heapq.heappush(self._waiting, (-promise, next(self._order), built))

    def most_promising(self) -> Built | None:
        """None once nothing that waits can beat the best."""
        if self._waiting:
            promise, _, built = heapq.heappop(self._waiting)
            if -promise > self.best.value:
                return built
        return None


class _Done:
    """Rectangles already looked at, as arrays, so that one meets all others at once."""

    def __init__(self, parts: int, most: int) -> None:
        self.built: list[Built] = []
        self.sides = np.zeros((most, 2), dtype=np.int64)
        self.used = np.zeros((most, parts), dtype=np.int64)

    def add(self, built: Built) -> None:
        at = len(self.built)
        self.built.append(built)
        self.sides[at] = (built.width, built.height)
        self.used[at] = built.used

    def joined(self, field: Field, built: Built, limits: NDArray[np.int64]) -> Iterable[Built]:
        so_many = len(self.built)
        enough = ((self.used[:so_many] + np.array(built.used)) <= limits).all(axis=1)
        sides = self.sides[:so_many]
        for place in np.flatnonzero(enough & (sides[:, 0] + built.width <= field.width)):
            yield _join(built, self.built[place], beside=True)
        for place in np.flatnonzero(enough & (sides[:, 1] + built.height <= field.height)):
            yield _join(built, self.built[place], beside=False)


def _join(one: Built, other: Built, *, beside: bool) -> Built:
    widths, heights = (one.width, other.width), (one.height, other.height)
    return Built(
        sum(widths) if beside else max(widths),
        max(heights) if beside else sum(heights),
        one.value + other.value,
        tuple(a + b for a, b in zip(one.used, other.used, strict=True)),
        halves=(one, other),
        beside=beside,
    )


def _around(field: Field, built: Built) -> int:
    i = int(np.searchsorted(field.xs, built.width))
    j = int(np.searchsorted(field.ys, built.height))
    return int(field.outside[i, j])


def _read(field: Field, i: int, j: int) -> Built:
    """Follow the recursion back from the rectangle `xs[i]` × `ys[j]`."""
    xs, ys, inside = field.xs, field.ys, field.inside
    parts = 1 + max(shape.part for shape in field.shapes)
    value = int(inside[i, j])
    if value == 0:
        return Built(int(xs[i]), int(ys[j]), 0, (0,) * parts)
    for shape in field.shapes:
        if shape.value == value and shape.width <= xs[i] and shape.height <= ys[j]:
            used = tuple(int(part == shape.part) for part in range(parts))
            return Built(shape.width, shape.height, value, used, shape)
    for left in range(1, i):
        right = int(np.searchsorted(xs, xs[i] - xs[left], side="right")) - 1
        if inside[left, j] + inside[right, j] == value:
            return _join(_read(field, left, j), _read(field, right, j), beside=True)
    for below in range(1, j):
        above = int(np.searchsorted(ys, ys[j] - ys[below], side="right")) - 1
        if inside[i, below] + inside[i, above] == value:
            return _join(_read(field, i, below), _read(field, i, above), beside=False)
    return _read(field, i - 1, j) if i and inside[i - 1, j] == value else _read(field, i, j - 1)
