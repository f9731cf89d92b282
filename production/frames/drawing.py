"""A frame and a cutting as drawings: millimetres in, millimetres out, the words beside them. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from production.frames.cutting.bar_plan import BarPlan, CutBar
from production.frames.cutting.cut_sheets import Area, CutSheet
from production.frames.design import Box, ChosenFrame, PlacedCast

_RULER_MM = 100
# The outlines of `parts/frame_proof.html`, before they are stretched: left, top, width, height.
_HAND = Box(-25, -28.5, 44, 54.5)
_FOOT = Box(4, 0, 36, 80)


@dataclass(frozen=True, slots=True)
class Limb:
    """One cast in the drawing: its slab, and how the outline of the limb is stretched onto it."""

    name: str
    is_foot: bool
    slab: Box
    transform: str


@dataclass(frozen=True, slots=True)
class Proof:
    """A frame drawn to scale: one unit is one millimetre.

    `backing` and `finish` are names of shades in the style sheet; `words` describe the drawing.
    """

    width_mm: float
    height_mm: float
    face_mm: float
    opening: Box
    limbs: tuple[Limb, ...]
    plate: Box | None
    plate_words: str
    backing: str
    finish: str
    backing_words: str
    finish_words: str
    ruler_mm: int
    words: str
    size_words: str

    @property
    def view(self) -> str:
        """The view box: the frame, and room for the ruler below."""
        return f"-4 -4 {self.width_mm + 8:g} {self.height_mm + 40:g}"

    @property
    def measured_view(self) -> str:
        """The same with room for the lengths that the owner reads off, at the right and below."""
        return f"-4 -4 {self.width_mm + 40:g} {self.height_mm + 66:g}"

    @property
    def measured_x_mm(self) -> float:
        return self.width_mm + 12

    @property
    def measured_y_mm(self) -> float:
        return self.height_mm + 38

    @property
    def middle_mm(self) -> tuple[float, float]:
        return self.width_mm / 2, self.height_mm / 2

    @property
    def inner_mm(self) -> float:
        return self.width_mm - self.face_mm

    @property
    def lower_mm(self) -> float:
        return self.height_mm - self.face_mm

    @property
    def ruler_y_mm(self) -> float:
        return self.height_mm + 14


_SHADES = {
    "chalk": "chalk",
    "white": "chalk",
    "ivory": "chalk",
    "cream": "chalk",
    "oat": "oat",
    "natural": "oat",
    "linen": "oat",
    "blue": "blue",
    "navy": "blue",
    "slate": "slate",
    "grey": "slate",
    "black": "slate",
    "green": "moss",
    "moss": "moss",
    "pink": "clay",
    "rose": "clay",
    "red": "clay",
}


def shade(words: str) -> str:
    """Return the shade that fits the name of a backing or finish; the plain one if none does."""
    named = words.lower().split()
    return next((_SHADES[word] for word in named if word in _SHADES), "plain")


def finish_shade(words: str) -> str:
    lime = "lime" in words.lower() or "white" in words.lower()
    return "limed" if lime else "waxed"


def proof(
    fit: ChosenFrame,
    face_mm: float,
    border_mm: float,
    *,
    backing: str = "",
    finish: str = "",
    plate_words: str = "",
) -> Proof:
    """Draw a layout in a frame of this face width in mm, with `border_mm` of plaster round each print."""
    layout = fit.layout
    opening = Box(face_mm, face_mm, layout.width_mm, layout.height_mm)
    return Proof(
        width_mm=layout.width_mm + 2 * face_mm,
        height_mm=layout.height_mm + 2 * face_mm,
        face_mm=face_mm,
        opening=opening,
        limbs=tuple(_limb(laid, opening, border_mm) for laid in layout.casts),
        plate=_moved(layout.plate_box, opening) if layout.plate_box else None,
        plate_words=plate_words,
        backing=shade(backing),
        finish=finish_shade(finish),
        backing_words=backing,
        finish_words=finish,
        ruler_mm=_RULER_MM,
        words=_words(fit, backing, finish, plate_words),
        size_words=f"{_cm(layout.width_mm + 2 * face_mm)} × {_cm(layout.height_mm + 2 * face_mm)} cm",
    )


def _moved(box: Box, by: Box) -> Box:
    return Box(box.x_mm + by.x_mm, box.y_mm + by.y_mm, box.width_mm, box.height_mm)


def _limb(laid: PlacedCast, opening: Box, border_mm: float) -> Limb:
    slab = _moved(laid.box, opening)
    is_foot = laid.cast.limb.endswith("foot")
    drawn = _FOOT if is_foot else _HAND
    wide = max(slab.width_mm - 2 * border_mm, 1) / drawn.width_mm
    high = max(slab.height_mm - 2 * border_mm, 1) / drawn.height_mm
    left, top = slab.x_mm + border_mm, slab.y_mm + border_mm
    if laid.cast.limb.startswith("right"):
        x, wide = left + drawn.right_mm * wide, -wide
    else:
        x = left - drawn.x_mm * wide
    y = top - drawn.y_mm * high
    return Limb(
        laid.cast.name, is_foot, slab, f"translate({x:.2f} {y:.2f}) scale({wide:.4f} {high:.4f})"
    )


def _words(fit: ChosenFrame, backing: str, finish: str, plate_words: str) -> str:
    """The text twin of the drawing."""
    rows: list[list[str]] = []
    bottoms: list[float] = []
    for laid in fit.layout.casts:
        if not bottoms or abs(bottoms[-1] - laid.box.bottom_mm) > 1:
            rows.append([])
            bottoms.append(laid.box.bottom_mm)
        rows[-1].append(laid.cast.name)
    lines = _("; below: ").join(", ".join(row) for row in rows)
    facts = {"rows": lines, "plate": plate_words, "backing": backing, "finish": finish}
    casts = _("From left to right: %(rows)s.")
    if fit.layout.plate_box:
        casts = _("From left to right: %(rows)s; below them a plate.")
        if plate_words:
            casts = _("From left to right: %(rows)s; below them a plate, “%(plate)s”.")
    back = _("On %(backing)s.") if backing else _("The backing is not chosen yet.")
    frame = _("Frame: %(finish)s.") if finish else _("The finish is not chosen yet.")
    return " ".join(each % facts for each in (casts, back, frame))


def _cm(length_mm: float) -> str:
    return f"{length_mm / 10:.1f}"


# --- bars and sheets -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Stretch:
    """A piece of a bar: a rail with its number, an offcut, or waste."""

    from_mm: int
    length_mm: int
    kind: str  # "rail", "offcut" or "waste"
    name: str = ""
    number: int = 0

    @property
    def middle_mm(self) -> float:
        return self.from_mm + self.length_mm / 2


@dataclass(frozen=True, slots=True)
class BarDrawing:
    """One bar, left to right, with what is to be read beside it."""

    name: str
    length_mm: int
    is_new: bool
    stretches: tuple[Stretch, ...]
    view_mm: int  # the longest bar of the drawing: all are drawn at one scale

    @property
    def rails(self) -> list[Stretch]:
        return [each for each in self.stretches if each.kind == "rail"]

    @property
    def offcuts(self) -> list[Stretch]:
        return [each for each in self.stretches if each.kind == "offcut"]


def bars(plan: BarPlan) -> tuple[BarDrawing, ...]:
    """Each bar of the plan; rails are numbered through, as they are to be written on the wood."""
    drawn: list[BarDrawing] = []
    number, new = 0, 0
    view_mm = max((bar.bar.length_mm for bar in plan.bars), default=0)
    for bar in plan.bars:
        new += bar.is_new
        stretches = _stretches(bar, number)
        number += len(bar.cuts)
        name = f"New bar {new}" if bar.is_new else bar.bar.name
        drawn.append(BarDrawing(name, bar.bar.length_mm, bar.is_new, tuple(stretches), view_mm))
    return tuple(drawn)


def _stretches(bar: CutBar, number: int) -> list[Stretch]:
    found = [
        Stretch(cut.from_mm, cut.rail.length_mm, "rail", cut.rail.name, number + place)
        for place, cut in enumerate(bar.cuts, start=1)
    ]
    found += [Stretch(run.from_mm, run.length_mm, "offcut") for run in bar.offcuts]
    return sorted(found, key=lambda each: each.from_mm)


@dataclass(frozen=True, slots=True)
class SheetCut:
    """One cut from edge to edge of what is still whole: `upright` at so much from the left, else level
    at so much from the foot; from where to where it runs. Measured to the near side of the saw.
    """

    upright: bool
    at_mm: int
    from_mm: int
    to_mm: int


@dataclass(frozen=True, slots=True)
class SheetDrawing:
    """One sheet: its parts with their numbers, its cuts in order, what is kept."""

    name: str
    width_mm: int
    height_mm: int
    parts: tuple[tuple[int, str, Box], ...]
    offcuts: tuple[Box, ...]
    cuts: tuple[SheetCut, ...]
    used_percent: int

    @property
    def view(self) -> str:
        return f"0 0 {self.width_mm} {self.height_mm}"

    @property
    def letter_mm(self) -> float:
        """Height of a number that can be read at the size of a page."""
        return self.width_mm / 24


def sheets(plan: Sequence[CutSheet]) -> tuple[SheetDrawing, ...]:
    """Each sheet seen from above, its corner of origin at the bottom left."""
    drawn, number = [], 0
    for place, sheet in enumerate(plan, start=1):
        high = sheet.sheet.height_mm
        parts = []
        for each in sheet.placed:
            number += 1
            top = high - each.y_mm - each.height_mm
            parts.append(
                (number, each.part.name, Box(each.x_mm, top, each.width_mm, each.height_mm))
            )
        kept = tuple(
            Box(a.x_mm, high - a.y_mm - a.height_mm, a.width_mm, a.height_mm) for a in sheet.offcuts
        )
        drawn.append(
            SheetDrawing(
                f"Sheet {place}",
                sheet.sheet.width_mm,
                high,
                tuple(parts),
                kept,
                tuple(_sheet_cut(each) for each in sheet.cuts),
                round(100 * sheet.used_share),
            )
        )
    return tuple(drawn)


def _sheet_cut(strip: Area) -> SheetCut:
    """The strip that the saw takes, as it is read off a rule; a scored one has no width."""
    x, y, width, height = strip
    if width < height:
        return SheetCut(True, x, y, y + height)
    return SheetCut(False, y, x, x + width)
