"""Boards and glass out of sheets: every cut from edge to edge, the kerf taken, the grain kept.

Sheet after sheet, each as well filled as a search or a rule of thumb finds; the offcut sheets of the
rack first. The same week gives the same cutting. Whole millimetres, the corner at the bottom left.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import NamedTuple

from production.cutting.guillotine import MOST_STATES, Built, Field, Shape, fill
from production.cutting.stock import MOST_LENGTH_MM, MOST_LOSS_MM, CannotCut

# Rectangles looked at per sheet of a week: more find hardly more.
_BUILT = 150
# Narrower is not worth a label.
USEFUL_MM = 100

Rule = tuple[str, bool]


@dataclass(frozen=True, slots=True)
class Part:
    """One board or pane. With `grain` its height runs along the sheet's height and it is not turned."""

    width_mm: int
    height_mm: int
    name: str = ""
    grain: bool = False


@dataclass(frozen=True, slots=True)
class Sheet:
    width_mm: int
    height_mm: int
    name: str = ""

    @property
    def area_mm2(self) -> int:
        return self.width_mm * self.height_mm


@dataclass(frozen=True, slots=True)
class Placed:
    """Where a part lies; `turned` if its width runs along the sheet's height."""

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
    """One sheet with its parts, the cuts in the order of sawing, and what is left to keep."""

    sheet: Sheet
    is_new: bool
    placed: tuple[Placed, ...]
    cuts: tuple[Area, ...]  # each the strip that the saw takes: one side of it is the kerf
    offcuts: tuple[Area, ...]

    @property
    def used_share(self) -> float:
        """How much of the sheet becomes parts, 0 to 1."""
        parts = sum(each.width_mm * each.height_mm for each in self.placed)
        return parts / self.sheet.area_mm2

    @property
    def spent_mm2(self) -> int:
        """Parts, dust and scrap: all but what is large enough to keep."""
        kept = sum(area.width_mm * area.height_mm for area in self.offcuts)
        return self.sheet.area_mm2 - kept


@dataclass(frozen=True, slots=True)
class SheetPlan:
    """`least` new sheets are needed at least, by area."""

    sheets: tuple[CutSheet, ...]
    least: int

    @property
    def new_sheets(self) -> int:
        return sum(sheet.is_new for sheet in self.sheets)

    @property
    def spent_mm2(self) -> int:
        """Of the new sheets, what is not left to be kept."""
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
    """Cut all parts out of the rack's offcuts and as few new sheets as found.

    Raises CannotCut for a part that is larger than a new sheet.
    """
    waiting = list(parts)
    _check(waiting, (stock, *rack), kerf_mm)
    for part in waiting:
        if not list(_ways(part, stock)):
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
    if not 0 <= kerf_mm <= MOST_LOSS_MM:
        raise CannotCut(f"The kerf lies between 0 and {MOST_LOSS_MM} mm.")
    sides: list[Part | Sheet] = [*parts, *sheets]
    for each in sides:
        if not 0 < min(each.width_mm, each.height_mm) <= MOST_LENGTH_MM:
            raise CannotCut(f"A side of {each.width_mm} × {each.height_mm} mm cannot be meant.")


def _ways(part: Part, room: Sheet | Area) -> Iterator[bool]:
    """Turned or not: the ways in which a part fits."""
    if part.width_mm <= room.width_mm and part.height_mm <= room.height_mm:
        yield False
    turned = part.height_mm <= room.width_mm and part.width_mm <= room.height_mm
    if turned and not part.grain and part.width_mm != part.height_mm:
        yield True


def _cut(
    waiting: list[Part], sheet: Sheet, kerf_mm: int, useful_mm: int, *, is_new: bool
) -> CutSheet | None:
    """Fill one sheet with what waits, take that off `waiting`; None where nothing fits."""
    candidates = [_by_rule(waiting, sheet, kerf_mm, rule) for rule in _RULES]
    if searched := _by_search(waiting, sheet, kerf_mm):
        candidates.append(searched)
    best = max(candidates, key=_filled_and_left)
    if not best.placed:
        return None
    for each in best.placed:
        waiting.remove(each.part)
    kept = tuple(a for a in best.left if min(a.width_mm, a.height_mm) >= useful_mm)
    return CutSheet(sheet, is_new, tuple(best.placed), tuple(best.cuts), kept)


class _Laid(NamedTuple):
    placed: list[Placed]
    cuts: list[Area]
    left: list[Area]


def _filled_and_left(laid: _Laid) -> tuple[int, int]:
    """The fullest sheet; among equals the one with the largest single rest."""
    filled = sum(each.width_mm * each.height_mm for each in laid.placed)
    return filled, max((area.width_mm * area.height_mm for area in laid.left), default=0)


# --- by search -----------------------------------------------------------------------------------


def _by_search(waiting: Sequence[Part], sheet: Sheet, kerf_mm: int) -> _Laid | None:
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
        for turned in _ways(part, sheet)
    ]
    field = Field(sheet.width_mm + kerf_mm, sheet.height_mm + kerf_mm, tuple(shapes))
    if not shapes or field.states > MOST_STATES // 20:
        return None
    built, _ = fill(field, [len(parts) for parts in same.values()], _BUILT)
    laid = _Laid([], [], [])
    parts = [list(reversed(each)) for each in same.values()]
    _draw(built, Area(0, 0, sheet.width_mm, sheet.height_mm), kerf_mm, parts, laid)
    return laid


def _draw(built: Built, room: Area, kerf_mm: int, parts: list[list[Part]], laid: _Laid) -> None:
    """Cut `built` out of `room`: first what lies beyond it, then half from half."""
    room = _trim(built, room, kerf_mm, laid, across=False)
    room = _trim(built, room, kerf_mm, laid, across=True)
    x, y, width, height = room
    if built.shape:
        part = parts[built.shape.part].pop()
        turned = (part.width_mm + kerf_mm, part.height_mm + kerf_mm) != built.shape[:2]
        laid.placed.append(Placed(part, x, y, turned))
        return
    if not built.halves:
        return
    one, other = built.halves
    if built.beside:
        rest = _split(room, one.width - kerf_mm, kerf_mm, laid, across=False)
        first = Area(x, y, one.width - kerf_mm, height)
    else:
        rest = _split(room, one.height - kerf_mm, kerf_mm, laid, across=True)
        first = Area(x, y, width, one.height - kerf_mm)
    _draw(one, first, kerf_mm, parts, laid)
    if rest:
        _draw(other, rest, kerf_mm, parts, laid)


def _trim(built: Built, room: Area, kerf_mm: int, laid: _Laid, *, across: bool) -> Area:
    """What is left of `room` for `built`. No cut for mere dust, but where a part is to be true."""
    x, y, width, height = room
    at = (built.height if across else built.width) - kerf_mm
    beyond = (height if across else width) - at
    if beyond <= (0 if built.shape else kerf_mm):
        return room
    if over := _split(room, at, kerf_mm, laid, across=across):
        laid.left.append(over)
    return Area(x, y, width, at) if across else Area(x, y, at, height)


def _split(room: Area, at: int, kerf_mm: int, laid: _Laid, *, across: bool) -> Area | None:
    """Saw `room` at `at` from its corner; what lies beyond the saw, None where nothing is cut off."""
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


# --- by rules of thumb ---------------------------------------------------------------------------

_ORDERS: dict[str, Callable[[Part], int]] = {
    "area": lambda part: part.width_mm * part.height_mm,
    "long side": lambda part: max(part.width_mm, part.height_mm),
    "height": lambda part: part.height_mm,
    "width": lambda part: part.width_mm,
}
_RULES: tuple[Rule, ...] = tuple(product(_ORDERS, (True, False)))


def _by_rule(waiting: Sequence[Part], sheet: Sheet, kerf_mm: int, rule: Rule) -> _Laid:
    """The largest first, each into the tightest rest; that is then cut the one way or the other."""
    order, across_first = rule
    laid = _Laid([], [], [Area(0, 0, sheet.width_mm, sheet.height_mm)])
    too_large: Counter[tuple[int, int, bool]] = Counter()
    for part in sorted(waiting, key=_ORDERS[order], reverse=True):
        kind = (part.width_mm, part.height_mm, part.grain)
        if too_large[kind]:
            continue
        fits = [
            (min(_over(part, area, turned=turned)), area, turned)
            for area in laid.left
            for turned in _ways(part, area)
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


def _over(part: Part, area: Area, *, turned: bool) -> tuple[int, int]:
    sides = (part.height_mm, part.width_mm) if turned else (part.width_mm, part.height_mm)
    return area.width_mm - sides[0], area.height_mm - sides[1]


def _cut_out(placed: Placed, area: Area, kerf_mm: int, laid: _Laid, *, across_first: bool) -> None:
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
