"""The best filling of one sheet by guillotine cuts (edge to edge). Whole millimetres, the kerf already added.

Unlimited parts: the recursion of Gilmore & Gomory (1966) over normal patterns, the lengths that sums of parts reach;
exact. Limited parts: best-first search that joins rectangles side by side or one on the other (Viswanathan & Bagchi
1993), with that recursion as the bound.
"""

import heapq
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import count
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

# Rectangles examined before the search ends with the best found.
MAX_RECTANGLES = 4000

# With more pairs of normal patterns the recursion takes longer than a second or two.
MAX_STATES = 60_000


class Shape(NamedTuple):
    """A part in one orientation, with its value; `part` is the index of the part."""

    width: int
    height: int
    value: int
    part: int


class Rectangle(NamedTuple):
    """One shape, or two rectangles joined side by side (`beside`) or one on the other; `used` counts each part."""

    width: int
    height: int
    value: int
    used: tuple[int, ...]
    shape: Shape | None = None
    halves: "tuple[Rectangle, Rectangle] | None" = None
    beside: bool = True


@dataclass(frozen=True)
class Field:
    """A sheet and the shapes for it, with the bounds for unlimited numbers of each shape."""

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
        """The most value inside each rectangle `xs` × `ys`, with any number of each shape."""
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
        """The most value on the rest of the sheet if a rectangle `xs` × `ys` fills its corner."""
        xs, ys, inside = self.xs, self.ys, self.inside
        best = np.zeros_like(inside)
        for i in reversed(range(len(xs))):
            for j in reversed(range(len(ys))):
                us = np.arange(1, np.searchsorted(xs, self.width - xs[i], side="right"))
                vs = np.arange(1, np.searchsorted(ys, self.height - ys[j], side="right"))
                # Beside a taller neighbour the sheet above is wasted: growing the rectangle gains nothing.
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
    """0 and every sum of sides up to `length`, sorted."""
    reached = np.zeros(length + 1, dtype=np.bool_)
    reached[0] = True
    for side in sorted(set(sides)):
        for at in range(side, length + 1):
            reached[at] |= reached[at - side]
    return np.flatnonzero(reached)


def fill_unlimited(field: Field) -> Rectangle:
    """The best filling with any number of each shape; exact."""
    return _trace_back(field, len(field.xs) - 1, len(field.ys) - 1)


def fill(
    field: Field, copies: Sequence[int], max_rectangles: int = MAX_RECTANGLES
) -> tuple[Rectangle, bool]:
    """The best filling with at most `copies` of each part, and whether it is proven to be the best."""
    free = fill_unlimited(field)
    if all(used <= most for used, most in zip(free.used, copies, strict=True)):
        return free, True
    limits = np.array(copies, dtype=np.int64)
    search, done = _Queue(field, len(copies)), _Examined(len(copies), max_rectangles)
    for shape in field.shapes:
        used = tuple(int(part == shape.part) for part in range(len(copies)))
        if copies[shape.part] and shape.width <= field.width and shape.height <= field.height:
            search.offer(Rectangle(shape.width, shape.height, shape.value, used, shape))
    while len(done.rectangles) < max_rectangles and (rectangle := search.most_promising()):
        done.add(rectangle)
        for joined in done.joined(field, rectangle, limits):
            search.offer(joined)
    return search.best, search.most_promising() is None


class _Queue:
    """Priority queue of rectangles to examine, the largest bound first, and the best rectangle so far."""

    def __init__(self, field: Field, parts: int) -> None:
        self.field = field
        self.best = Rectangle(0, 0, 0, (0,) * parts)
        self._waiting: list[tuple[int, int, Rectangle]] = []
        self._seen: set[tuple[int, int, tuple[int, ...]]] = set()
        self._order = count()

    def offer(self, rectangle: Rectangle) -> None:
        """Queue a rectangle unless it is known or its bound cannot beat the best."""
        if (key := (rectangle.width, rectangle.height, rectangle.used)) in self._seen:
            return
        self._seen.add(key)
        if rectangle.value > self.best.value:
            self.best = rectangle
        promise = rectangle.value + _best_around(self.field, rectangle)
        if promise > self.best.value:
            heapq.heappush(self._waiting, (-promise, next(self._order), rectangle))

    def most_promising(self) -> Rectangle | None:
        """Take the rectangle with the largest bound; None once no bound beats the best."""
        if self._waiting:
            promise, _, rectangle = heapq.heappop(self._waiting)
            if -promise > self.best.value:
                return rectangle
        return None


class _Examined:
    """Examined rectangles as arrays, so that a new one is joined with all of them at once."""

    def __init__(self, parts: int, most: int) -> None:
        self.rectangles: list[Rectangle] = []
        self.sides = np.zeros((most, 2), dtype=np.int64)
        self.used = np.zeros((most, parts), dtype=np.int64)

    def add(self, rectangle: Rectangle) -> None:
        at = len(self.rectangles)
        self.rectangles.append(rectangle)
        self.sides[at] = (rectangle.width, rectangle.height)
        self.used[at] = rectangle.used

    def joined(
        self, field: Field, rectangle: Rectangle, limits: NDArray[np.int64]
    ) -> Iterable[Rectangle]:
        """Yield the new rectangle joined with each examined one, within the sheet and the copies left."""
        so_many = len(self.rectangles)
        enough = ((self.used[:so_many] + np.array(rectangle.used)) <= limits).all(axis=1)
        sides = self.sides[:so_many]
        for place in np.flatnonzero(enough & (sides[:, 0] + rectangle.width <= field.width)):
            yield _join(rectangle, self.rectangles[place], beside=True)
        for place in np.flatnonzero(enough & (sides[:, 1] + rectangle.height <= field.height)):
            yield _join(rectangle, self.rectangles[place], beside=False)


def _join(one: Rectangle, other: Rectangle, *, beside: bool) -> Rectangle:
    widths, heights = (one.width, other.width), (one.height, other.height)
    return Rectangle(
        sum(widths) if beside else max(widths),
        max(heights) if beside else sum(heights),
        one.value + other.value,
        tuple(a + b for a, b in zip(one.used, other.used, strict=True)),
        halves=(one, other),
        beside=beside,
    )


def _best_around(field: Field, rectangle: Rectangle) -> int:
    i = int(np.searchsorted(field.xs, rectangle.width))
    j = int(np.searchsorted(field.ys, rectangle.height))
    return int(field.outside[i, j])


def _trace_back(field: Field, i: int, j: int) -> Rectangle:
    """Rebuild the best filling of the rectangle `xs[i]` × `ys[j]` from the recursion's values."""
    xs, ys, inside = field.xs, field.ys, field.inside
    parts = 1 + max(shape.part for shape in field.shapes)
    value = int(inside[i, j])
    if value == 0:
        return Rectangle(int(xs[i]), int(ys[j]), 0, (0,) * parts)
    for shape in field.shapes:
        if shape.value == value and shape.width <= xs[i] and shape.height <= ys[j]:
            used = tuple(int(part == shape.part) for part in range(parts))
            return Rectangle(shape.width, shape.height, value, used, shape)
    for left in range(1, i):
        right = int(np.searchsorted(xs, xs[i] - xs[left], side="right")) - 1
        if inside[left, j] + inside[right, j] == value:
            return _join(_trace_back(field, left, j), _trace_back(field, right, j), beside=True)
    for below in range(1, j):
        above = int(np.searchsorted(ys, ys[j] - ys[below], side="right")) - 1
        if inside[i, below] + inside[i, above] == value:
            return _join(_trace_back(field, i, below), _trace_back(field, i, above), beside=False)
    return (
        _trace_back(field, i - 1, j)
        if i and inside[i - 1, j] == value
        else _trace_back(field, i, j - 1)
    )
