"""Cutting boards and panes out of sheets by guillotine cuts, with kerf and grain.

Sheet after sheet is filled as well as a search or a rule of thumb can, stored offcuts first. Deterministic. Whole
millimetres, the origin at the bottom left.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import NamedTuple

from production.frames.cutting.bar_plan import MAX_LENGTH_MM, MAX_LOSS_MM, CannotCut
from production.frames.cutting.guillotine import MAX_STATES, Field, Rectangle, Shape, fill

# Rectangles examined per sheet: more hardly improve the result.
_RECTANGLES_A_SHEET = 150

# The narrowest offcut worth keeping.
USEFUL_MM = 100

Rule = tuple[str, bool]


@dataclass(frozen=True, slots=True)
class Part:
    """One board or pane. With `grain` it must not be turned: its height runs along the sheet's height."""

    width_mm: int
    height_mm: int
    name: str = ""
    grain: bool = False


@dataclass(frozen=True, slots=True)
class Sheet:
    """A new sheet, or a stored offcut with its label as `name`."""

    width_mm: int
    height_mm: int
    name: str = ""

    @property
    def area_mm2(self) -> int:
        return self.width_mm * self.height_mm


@dataclass(frozen=True, slots=True)
class Placed:
    """A part and its place; `turned` if its width runs along the sheet's height."""

    part: Part
    x_mm: int
    y_mm: int
    turned: bool

    @property
    def width_mm(self) -> int:
        return self.part.height_mm if self.turned else self.part.width_mm

    @property
    def height_mm(self) -> int:
        return self.part.width_mm if self.turned else self.part.height_mm


class Area(NamedTuple):
    """A rectangle of a sheet."""

    x_mm: int
    y_mm: int
    width_mm: int
    height_mm: int


@dataclass(frozen=True, slots=True)
class CutSheet:
    """One sheet with its parts, the cuts in the order of sawing, and the offcuts to keep."""

    sheet: Sheet
    is_new: bool
    placed: tuple[Placed, ...]
    cuts: tuple[Area, ...]  # each is the strip that the saw removes, as wide as the kerf
    offcuts: tuple[Area, ...]

    @property
    def used_share(self) -> float:
        """Share of the sheet that becomes parts, 0 to 1."""
        parts = sum(each.width_mm * each.height_mm for each in self.placed)
        return parts / self.sheet.area_mm2

    @property
    def spent_mm2(self) -> int:
        """Area of parts, dust and scrap: all but the offcuts that are kept."""
        kept = sum(area.width_mm * area.height_mm for area in self.offcuts)
        return self.sheet.area_mm2 - kept


@dataclass(frozen=True, slots=True)
class SheetPlan:
    """The sheets to cut; `least` is the least number of new sheets by area."""

    sheets: tuple[CutSheet, ...]
    least: int

    @property
    def new_sheets(self) -> int:
        return sum(sheet.is_new for sheet in self.sheets)

    @property
    def spent_mm2(self) -> int:
        """Area of the new sheets without the offcuts that are kept."""
        return sum(sheet.spent_mm2 for sheet in self.sheets if sheet.is_new)

    @property
    def is_proven(self) -> bool:
        return self.new_sheets == self.least


def cut_sheets(
    parts: Iterable[Part],
    *,
    stock: Sheet,
    rack: Sequence[Sheet] = (),
    kerf_mm: int = 3,
    useful_mm: int = USEFUL_MM,
) -> SheetPlan:
    """Plan the cuts of all parts from stored offcuts and as few new sheets as possible.

    Offcuts with both sides from `useful_mm` on are kept. Raises CannotCut for a part larger than a new sheet, or for
    sizes or a kerf out of range.
    """
    waiting = list(parts)
    _check(waiting, (stock, *rack), kerf_mm)
    for part in waiting:
        if not list(_orientations(part, stock)):
            raise CannotCut(
                f"{part.name or 'A part'} of {part.width_mm} × {part.height_mm} mm is larger than "
                f"a sheet of {stock.width_mm} × {stock.height_mm} mm."
            )
    area = sum(part.width_mm * part.height_mm for part in waiting)
    in_rack = sum(sheet.area_mm2 for sheet in rack)
    least = max(0, -(-(area - in_rack) // stock.area_mm2))
    smallest_first = sorted(rack, key=lambda each: each.area_mm2)
    tried = [_cut(waiting, sheet, kerf_mm, useful_mm, is_new=False) for sheet in smallest_first]
    done = [cut for cut in tried if cut]
    while waiting:
        cut = _cut(waiting, stock, kerf_mm, useful_mm, is_new=True)
        if cut is None:
            raise CannotCut(
                f"No way was found to cut {waiting[0].name or 'a part'} out of a sheet."
            )
        done.append(cut)
    return SheetPlan(tuple(done), least)


def _check(parts: Iterable[Part], sheets: Iterable[Sheet], kerf_mm: int) -> None:
    if not 0 <= kerf_mm <= MAX_LOSS_MM:
        raise CannotCut(f"The kerf lies between 0 and {MAX_LOSS_MM} mm.")
    sides: list[Part | Sheet] = [*parts, *sheets]
    for each in sides:
        if not 0 < min(each.width_mm, each.height_mm) <= MAX_LENGTH_MM:
            raise CannotCut(f"A side of {each.width_mm} × {each.height_mm} mm cannot be meant.")


def _orientations(part: Part, room: Sheet | Area) -> Iterator[bool]:
    """Yield whether to turn the part, for each orientation in which it fits."""
    if part.width_mm <= room.width_mm and part.height_mm <= room.height_mm:
        yield False
    turned = part.height_mm <= room.width_mm and part.width_mm <= room.height_mm
    if turned and not part.grain and part.width_mm != part.height_mm:
        yield True


def _cut(
    waiting: list[Part], sheet: Sheet, kerf_mm: int, useful_mm: int, *, is_new: bool
) -> CutSheet | None:
    """Fill one sheet and remove the placed parts from `waiting`; None if nothing fits."""
    candidates = [_by_rule(waiting, sheet, kerf_mm, rule) for rule in _RULES]
    if searched := _by_search(waiting, sheet, kerf_mm):
        candidates.append(searched)
    best = max(candidates, key=_fill_then_largest_rest)
    if not best.placed:
        return None
    for each in best.placed:
        waiting.remove(each.part)
    kept = tuple(a for a in best.left if min(a.width_mm, a.height_mm) >= useful_mm)
    return CutSheet(sheet, is_new, tuple(best.placed), tuple(best.cuts), kept)


class _SheetLayout(NamedTuple):
    placed: list[Placed]
    cuts: list[Area]
    left: list[Area]


def _fill_then_largest_rest(laid: _SheetLayout) -> tuple[int, int]:
    """Sort key: the area filled, then the largest single rest."""
    filled = sum(each.width_mm * each.height_mm for each in laid.placed)
    return filled, max((area.width_mm * area.height_mm for area in laid.left), default=0)


def _by_search(waiting: Sequence[Part], sheet: Sheet, kerf_mm: int) -> _SheetLayout | None:
    same: dict[tuple[int, int, bool], list[Part]] = {}
    for part in waiting:
        same.setdefault((part.width_mm, part.height_mm, part.grain), []).append(part)
    shapes = [
        Shape(
            (part.height_mm if turned else part.width_mm) + kerf_mm,
            (part.width_mm if turned else part.height_mm) + kerf_mm,
            part.width_mm * part.height_mm,
            place,
        )
        for place, (part, *_) in enumerate(same.values())
        for turned in _orientations(part, sheet)
    ]
    field = Field(sheet.width_mm + kerf_mm, sheet.height_mm + kerf_mm, tuple(shapes))
    if not shapes or field.states > MAX_STATES // 20:
        return None
    rectangle, _ = fill(field, [len(parts) for parts in same.values()], _RECTANGLES_A_SHEET)
    laid = _SheetLayout([], [], [])
    parts = [list(reversed(each)) for each in same.values()]
    _draw(rectangle, Area(0, 0, sheet.width_mm, sheet.height_mm), kerf_mm, parts, laid)
    return laid


def _draw(
    rectangle: Rectangle, room: Area, kerf_mm: int, parts: list[list[Part]], laid: _SheetLayout
) -> None:
    """Add the cuts that saw `rectangle` out of `room`: first what lies beyond it, then half from half."""
    room = _trim(rectangle, room, kerf_mm, laid, across=False)
    room = _trim(rectangle, room, kerf_mm, laid, across=True)
    x, y, width, height = room
    if rectangle.shape:
        part = parts[rectangle.shape.part].pop()
        turned = (part.width_mm + kerf_mm, part.height_mm + kerf_mm) != rectangle.shape[:2]
        laid.placed.append(Placed(part, x, y, turned))
        return
    if not rectangle.halves:
        return
    one, other = rectangle.halves
    if rectangle.beside:
        rest = _split(room, one.width - kerf_mm, kerf_mm, laid, across=False)
        first = Area(x, y, one.width - kerf_mm, height)
    else:
        rest = _split(room, one.height - kerf_mm, kerf_mm, laid, across=True)
        first = Area(x, y, width, one.height - kerf_mm)
    _draw(one, first, kerf_mm, parts, laid)
    if rest:
        _draw(other, rest, kerf_mm, parts, laid)


def _trim(
    rectangle: Rectangle, room: Area, kerf_mm: int, laid: _SheetLayout, *, across: bool
) -> Area:
    """Cut `room` down to the rectangle. A rest no wider than the kerf is cut off only beside a finished part."""
    x, y, width, height = room
    at = (rectangle.height if across else rectangle.width) - kerf_mm
    beyond = (height if across else width) - at
    if beyond <= (0 if rectangle.shape else kerf_mm):
        return room
    if over := _split(room, at, kerf_mm, laid, across=across):
        laid.left.append(over)
    return Area(x, y, width, at) if across else Area(x, y, at, height)


def _split(room: Area, at: int, kerf_mm: int, laid: _SheetLayout, *, across: bool) -> Area | None:
    """Saw `room` at distance `at`; return the area beyond the cut, None if nothing is left there."""
    x, y, width, height = room
    if across:
        if at >= height:
            return None
        thick = min(kerf_mm, height - at)
        laid.cuts.append(Area(x, y + at, width, thick))
        rest = Area(x, y + at + thick, width, height - at - thick)
    else:
        if at >= width:
            return None
        thick = min(kerf_mm, width - at)
        laid.cuts.append(Area(x + at, y, thick, height))
        rest = Area(x + at + thick, y, width - at - thick, height)
    return rest if rest.width_mm and rest.height_mm else None


_ORDERS: dict[str, Callable[[Part], int]] = {
    "area": lambda part: part.width_mm * part.height_mm,
    "long side": lambda part: max(part.width_mm, part.height_mm),
    "height": lambda part: part.height_mm,
    "width": lambda part: part.width_mm,
}

_RULES: tuple[Rule, ...] = tuple(product(_ORDERS, (True, False)))


def _by_rule(waiting: Sequence[Part], sheet: Sheet, kerf_mm: int, rule: Rule) -> _SheetLayout:
    """Place the largest part first, each into the tightest free area, which is then split one way or the other."""
    order, across_first = rule
    laid = _SheetLayout([], [], [Area(0, 0, sheet.width_mm, sheet.height_mm)])
    too_large: Counter[tuple[int, int, bool]] = Counter()
    for part in sorted(waiting, key=_ORDERS[order], reverse=True):
        kind = (part.width_mm, part.height_mm, part.grain)
        if too_large[kind]:
            continue
        fits = [
            (min(_leftover(part, area, turned=turned)), area, turned)
            for area in laid.left
            for turned in _orientations(part, area)
        ]
        if not fits:
            too_large[kind] += 1
            continue
        _, area, turned = min(fits)
        laid.left.remove(area)
        placed = Placed(part, area.x_mm, area.y_mm, turned)
        laid.placed.append(placed)
        _cut_out(placed, area, kerf_mm, laid, across_first=across_first)
    return laid


def _leftover(part: Part, area: Area, *, turned: bool) -> tuple[int, int]:
    sides = (part.height_mm, part.width_mm) if turned else (part.width_mm, part.height_mm)
    return area.width_mm - sides[0], area.height_mm - sides[1]


def _cut_out(
    placed: Placed, area: Area, kerf_mm: int, laid: _SheetLayout, *, across_first: bool
) -> None:
    sides = {True: placed.height_mm, False: placed.width_mm}
    for across in (across_first, not across_first):
        if rest := _split(area, sides[across], kerf_mm, laid, across=across):
            laid.left.append(rest)
        area = Area(
            area.x_mm,
            area.y_mm,
            area.width_mm if across else min(area.width_mm, placed.width_mm),
            min(area.height_mm, placed.height_mm) if across else area.height_mm,
        )
