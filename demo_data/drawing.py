"""Pictures of casts and prints, drawn so that the demo needs no photograph of a child.

Shapes are drawn flat, blurred into a height map, and lit from the upper left: the difference
between a height map and itself, shifted, is how much light a slope catches.
"""

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from random import Random
from typing import NamedTuple

from PIL import Image, ImageChops, ImageDraw, ImageFilter, ImageOps

WIDTH_PX, HEIGHT_PX = 960, 720
QUALITY = 82
_FRAME_MM = 22.0
_EDGE_MM = 26.0
_MOST_IN_A_ROW = 4

Colour = tuple[int, int, int]
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Shape:
    """One limb: "hand" or "foot", which side, heel to toe or wrist to fingertip."""

    kind: str
    left: bool
    length_mm: float


@dataclass(frozen=True, slots=True)
class Backing:
    """What lies behind the casts: its colour, and how strongly its weave shows (0 to 40)."""

    colour: Colour
    weave: int


class _Blob(NamedTuple):
    """A capsule in units of the limb's length: x to the right, y from wrist or heel upwards."""

    x0: float
    y0: float
    x1: float
    y1: float
    radius: float


# The palm of a right hand and the sole of a right foot, as they face us.
_HAND = (
    _Blob(-0.12, 0.05, 0.12, 0.05, 0.13),
    _Blob(-0.14, 0.20, 0.14, 0.20, 0.15),
    _Blob(-0.15, 0.36, 0.15, 0.38, 0.15),
    _Blob(0.17, 0.44, 0.235, 0.81, 0.070),
    _Blob(0.06, 0.48, 0.075, 0.925, 0.074),
    _Blob(-0.06, 0.48, -0.085, 0.87, 0.070),
    _Blob(-0.18, 0.42, -0.245, 0.71, 0.060),
    _Blob(0.17, 0.18, 0.40, 0.44, 0.080),
)
_HAND_PADS = (
    _Blob(0.13, 0.18, 0.19, 0.28, 0.10),
    _Blob(-0.17, 0.12, -0.17, 0.30, 0.08),
    _Blob(-0.16, 0.44, 0.16, 0.47, 0.045),
    _Blob(0.205, 0.66, 0.207, 0.67, 0.035),
    _Blob(0.068, 0.72, 0.068, 0.74, 0.038),
    _Blob(-0.075, 0.68, -0.075, 0.70, 0.035),
    _Blob(-0.218, 0.58, -0.218, 0.59, 0.03),
    _Blob(0.233, 0.80, 0.235, 0.82, 0.04),
    _Blob(0.075, 0.91, 0.075, 0.93, 0.044),
    _Blob(-0.084, 0.86, -0.085, 0.875, 0.04),
    _Blob(-0.243, 0.70, -0.245, 0.715, 0.034),
    _Blob(0.39, 0.43, 0.41, 0.45, 0.046),
)
_HAND_CREASES = (
    ((0.25, 0.41), (0.06, 0.40), (-0.02, 0.26), (0.02, 0.04)),
    ((0.27, 0.42), (0.10, 0.40), (-0.10, 0.34), (-0.22, 0.24)),
    ((-0.28, 0.36), (-0.12, 0.37), (0.02, 0.42), (0.11, 0.52)),
    ((-0.18, 0.075), (-0.06, 0.05), (0.06, 0.05), (0.18, 0.075)),
    ((0.125, 0.585), (0.17, 0.575), (0.21, 0.575), (0.26, 0.58)),
    ((-0.005, 0.62), (0.05, 0.61), (0.09, 0.61), (0.14, 0.62)),
    ((-0.14, 0.59), (-0.09, 0.58), (-0.05, 0.58), (0.0, 0.595)),
    ((-0.27, 0.515), (-0.23, 0.515), (-0.19, 0.52), (-0.14, 0.53)),
    ((0.15, 0.745), (0.19, 0.735), (0.25, 0.735), (0.29, 0.74)),
    ((0.0, 0.835), (0.05, 0.825), (0.10, 0.825), (0.145, 0.835)),
    ((-0.15, 0.785), (-0.10, 0.775), (-0.06, 0.775), (-0.01, 0.785)),
    ((-0.29, 0.645), (-0.25, 0.64), (-0.21, 0.645), (-0.17, 0.655)),
    ((0.27, 0.37), (0.31, 0.35), (0.33, 0.32), (0.35, 0.29)),
)
_FOOT = (
    _Blob(0.0, 0.14, 0.0, 0.17, 0.145),
    _Blob(-0.035, 0.16, -0.045, 0.55, 0.135),
    _Blob(0.015, 0.22, 0.03, 0.55, 0.115),
    _Blob(-0.06, 0.63, 0.05, 0.68, 0.155),
    _Blob(-0.04, 0.72, 0.07, 0.77, 0.125),
    _Blob(0.125, 0.86, 0.13, 0.905, 0.085),
    _Blob(0.0, 0.855, 0.0, 0.895, 0.056),
    _Blob(-0.085, 0.825, -0.088, 0.862, 0.051),
    _Blob(-0.152, 0.775, -0.16, 0.812, 0.047),
    _Blob(-0.198, 0.71, -0.212, 0.748, 0.044),
)
_FOOT_PADS = (
    _Blob(0.0, 0.12, 0.0, 0.17, 0.09),
    _Blob(0.08, 0.66, 0.10, 0.73, 0.085),
    _Blob(-0.12, 0.58, -0.11, 0.68, 0.07),
    _Blob(-0.10, 0.30, -0.10, 0.45, 0.05),
    _Blob(0.13, 0.875, 0.13, 0.905, 0.056),
    _Blob(0.0, 0.88, 0.0, 0.895, 0.036),
    _Blob(-0.088, 0.85, -0.088, 0.862, 0.032),
    _Blob(-0.16, 0.80, -0.16, 0.812, 0.03),
    _Blob(-0.212, 0.735, -0.212, 0.748, 0.028),
)
_FOOT_CREASES = (
    ((0.20, 0.57), (0.10, 0.55), (0.03, 0.50), (-0.02, 0.44)),
    ((0.15, 0.45), (0.09, 0.43), (0.03, 0.39), (-0.04, 0.36)),
    ((0.13, 0.29), (0.06, 0.27), (-0.04, 0.27), (-0.12, 0.29)),
    ((0.22, 0.80), (0.06, 0.83), (-0.10, 0.80), (-0.20, 0.68)),
)

_PLASTER: tuple[Colour, Colour, Colour] = (104, 97, 86), (226, 220, 208), (255, 253, 248)
_CLAY: tuple[Colour, Colour, Colour] = (58, 44, 36), (168, 142, 120), (226, 205, 186)
_WAXED: tuple[Colour, Colour] = (118, 76, 36), (196, 146, 88)
_LIMED: tuple[Colour, Colour] = (168, 152, 128), (222, 210, 190)
_WALL: Colour = (214, 209, 200)
_BENCH: tuple[Colour, Colour] = (92, 72, 54), (138, 112, 88)


def finished(
    shapes: Sequence[Shape], backing: Backing, *, limed: bool, glazed: bool, seed: str
) -> bytes:
    """A JPEG of a frame on a wall, the casts in it to scale. Raises ValueError without a cast."""
    if not shapes:
        raise ValueError("A frame holds at least one cast.")
    rng = Random(seed)  # noqa: S311 - decoration
    rows = [shapes[i : i + _MOST_IN_A_ROW] for i in range(0, len(shapes), _MOST_IN_A_ROW)]
    if len(shapes) == _MOST_IN_A_ROW:
        rows = [shapes[:2], shapes[2:]]
    cell_w = max(shape.length_mm for shape in shapes) * 0.88
    row_h = [max(shape.length_mm for shape in row) + 14 for row in rows]
    inner_w = max(len(row) for row in rows) * cell_w + _EDGE_MM
    inner_h = sum(row_h) + _EDGE_MM
    px = min(
        WIDTH_PX * 0.86 / (inner_w + 2 * _FRAME_MM), HEIGHT_PX * 0.88 / (inner_h + 2 * _FRAME_MM)
    )
    size = round((inner_w + 2 * _FRAME_MM) * px), round((inner_h + 2 * _FRAME_MM) * px)
    framed = _oak_frame(size, round(_FRAME_MM * px), backing, limed, rng)
    y = (_FRAME_MM + _EDGE_MM / 2) * px
    for row, height_mm in zip(rows, row_h, strict=True):
        x = size[0] / 2 - (len(row) - 1) * cell_w * px / 2
        for shape in row:
            _lay(framed, shape, (x, y + height_mm * px / 2), px, rng, raised=True)
            x += cell_w * px
        y += height_mm * px
    _inner_shadow(framed, round(_FRAME_MM * px))
    if glazed:
        _reflect(framed, round(_FRAME_MM * px))
    return _jpeg(_on_the_wall(framed, rng))


def impression(shape: Shape, *, seed: str) -> bytes:
    """A JPEG of a print in a slab of clay on the bench."""
    rng = Random(seed)  # noqa: S311 - decoration
    picture = _tinted(_grain((WIDTH_PX, HEIGHT_PX), 90, 3, rng), *_BENCH)
    px = HEIGHT_PX * 0.60 / shape.length_mm
    slab_w, slab_h = round(shape.length_mm * 1.1 * px), round(HEIGHT_PX * 0.78)
    left, top = (WIDTH_PX - slab_w) // 2, (HEIGHT_PX - slab_h) // 2
    mask = _wobbly_slab((slab_w, slab_h), rng)
    _shadow(picture, mask, (left, top), 14, 0.55)
    height = mask.filter(ImageFilter.GaussianBlur(9))
    lit = ImageChops.add(_lit(height, 5, 1.4), _noise((slab_w, slab_h), 26, rng), 1, -13)
    slab = _three_tones(lit, _CLAY)
    picture.paste(slab, (left, top), mask)
    _lay(picture, shape, (WIDTH_PX / 2, HEIGHT_PX / 2), px, rng, raised=False)
    return _jpeg(picture)


def _lay(
    picture: Image.Image,
    shape: Shape,
    centre: tuple[float, float],
    px_per_mm: float,
    rng: Random,
    *,
    raised: bool,
) -> None:
    """Put one limb onto the picture: raised in plaster, or sunk into the clay (and so mirrored)."""
    length = max(40, round(shape.length_mm * px_per_mm))
    side = round(length * 1.2)
    turn = rng.uniform(-5, 5)
    mask, height = _relief(shape.kind, length, side)
    if shape.left == raised:
        mask, height = ImageOps.mirror(mask), ImageOps.mirror(height)
    mask = mask.rotate(turn, Image.Resampling.BILINEAR)
    height = height.rotate(turn, Image.Resampling.BILINEAR)
    corner = round(centre[0] - side / 2), round(centre[1] - side / 2)
    reach = max(2, length // 110)
    if raised:
        _shadow(picture, mask, corner, max(3, length // 26), 0.62)
        lit = ImageChops.add(_lit(height, reach, 0.42), _noise((side, side), 12, rng), 1, -6)
        picture.paste(_three_tones(lit, _PLASTER), corner, mask)
        return
    sunk = ImageChops.subtract(
        _lit(ImageOps.invert(height), reach, 0.42), height.point(_darker), 1, 0
    )
    lit = ImageChops.add(sunk, _noise((side, side), 18, rng), 1, -9)
    picture.paste(_three_tones(lit, _CLAY), corner, mask.filter(ImageFilter.GaussianBlur(2)))


def _darker(value: int) -> int:
    return value // 9


@lru_cache(maxsize=4)
def _relief(kind: str, length: int, side: int) -> tuple[Image.Image, Image.Image]:
    """The outline (antialiased) and the height map of a right limb in a square of `side` px."""
    hand = kind == "hand"
    body, pads, creases = (
        (_HAND, _HAND_PADS, _HAND_CREASES) if hand else (_FOOT, _FOOT_PADS, _FOOT_CREASES)
    )
    place = _placed(length, side, -0.07 if hand else 0.0)
    mask = _drawn(body, side, place, 255).filter(ImageFilter.GaussianBlur(length / 130))
    mask = mask.point(_crisp)
    rounded = mask.filter(ImageFilter.GaussianBlur(length / 26))
    plump = _drawn(pads, side, place, 110).filter(ImageFilter.GaussianBlur(length / 34))
    height = ImageChops.add(rounded.point(_most_of), plump)
    lines = Image.new("L", (side, side), 0)
    pen = ImageDraw.Draw(lines)
    for crease in creases:
        pen.line(
            [place(x, y) for x, y in _curve(crease)],
            fill=44,
            width=max(2, length // 70),
            joint="curve",
        )
    lines = lines.filter(ImageFilter.GaussianBlur(length / 105))
    return mask, ImageChops.subtract(height, lines)


def _crisp(value: int) -> int:
    """Steepens a blurred edge: corners are rounded, the edge is sharp again."""
    return max(0, min(255, (value - 128) * 4 + 128))


def _most_of(value: int) -> int:
    return value * 6 // 10


def _curve(points: Sequence[Point], steps: int = 14) -> list[Point]:
    """The cubic curve that four points pull."""
    curve = []
    for step in range(steps + 1):
        t = step / steps
        weights = (1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3
        along = list(zip(weights, points, strict=True))
        curve.append((sum(w * x for w, (x, _) in along), sum(w * y for w, (_, y) in along)))
    return curve


Place = Callable[[float, float], tuple[float, float]]


def _placed(length: int, side: int, shift: float) -> Place:
    def place(x: float, y: float) -> tuple[float, float]:
        return side / 2 + (x + shift) * length, side / 2 - (y - 0.5) * length

    return place


def _drawn(blobs: Sequence[_Blob], side: int, place: Place, tone: int) -> Image.Image:
    """Capsules, drawn at twice the size so that their edges are smooth."""
    big = Image.new("L", (side * 2, side * 2), 0)
    pen = ImageDraw.Draw(big)
    unit = (place(1, 0)[0] - place(0, 0)[0]) * 2
    for blob in blobs:
        ends = [place(blob.x0, blob.y0), place(blob.x1, blob.y1)]
        scaled = [(x * 2, y * 2) for x, y in ends]
        radius = blob.radius * unit
        pen.line(scaled, fill=tone, width=round(radius * 2))
        for x, y in scaled:
            pen.ellipse((x - radius, y - radius, x + radius, y + radius), fill=tone)
    return big.resize((side, side), Image.Resampling.BILINEAR)


def _lit(height: Image.Image, reach: int, flatness: float) -> Image.Image:
    """How much light each slope catches, 128 where it is level; less `flatness` is more contrast."""
    towards = ImageChops.offset(height, -reach, -reach)
    away = ImageChops.offset(height, reach, reach)
    return ImageChops.subtract(towards, away, flatness, 150)


def _shadow(
    picture: Image.Image, mask: Image.Image, corner: tuple[int, int], reach: int, depth: float
) -> None:
    soft = Image.new("L", (mask.width + 4 * reach, mask.height + 4 * reach), 0)
    soft.paste(mask, (2 * reach, 2 * reach))
    soft = soft.filter(ImageFilter.GaussianBlur(reach * 0.7)).point(lambda value: value * depth)
    picture.paste((20, 16, 12), (corner[0] - reach, corner[1] - reach), soft)


def _noise(size: tuple[int, int], spread: int, rng: Random) -> Image.Image:
    """Soft grain between 0 and `spread`."""
    small = size[0] // 2 + 1, size[1] // 2 + 1
    fine = Image.frombytes("L", small, rng.randbytes(small[0] * small[1]))
    fine = fine.resize(size, Image.Resampling.BILINEAR)
    return fine.point(lambda value: value * spread / 255)


def _grain(size: tuple[int, int], along: int, across: int, rng: Random) -> Image.Image:
    """Streaks of wood, lying: noise stretched `along` px in length and `across` px in width."""
    streaks = Image.new("L", size, 128)
    for length, width, share in ((along * 6, across * 6, 0.5), (along, across, 0.35)):
        small = max(2, size[0] // length), max(2, size[1] // width)
        noise = Image.frombytes("L", small, rng.randbytes(small[0] * small[1]))
        streaks = Image.blend(streaks, noise.resize(size, Image.Resampling.BICUBIC), share)
    return streaks


def _tinted(grey: Image.Image, dark: Colour, light: Colour) -> Image.Image:
    return ImageOps.colorize(grey, dark, light)


def _three_tones(grey: Image.Image, tones: tuple[Colour, Colour, Colour]) -> Image.Image:
    dark, middle, light = tones
    return ImageOps.colorize(grey, dark, light, middle, midpoint=150)


def _oak_frame(
    size: tuple[int, int], rail: int, backing: Backing, limed: bool, rng: Random
) -> Image.Image:
    """Four mitred rails of oak round the backing."""
    width, height = size
    dark, light = _LIMED if limed else _WAXED
    lying = _tinted(_grain(size, 60, 2, rng), dark, light)
    standing = _tinted(_grain((height, width), 60, 2, rng), dark, light).transpose(
        Image.Transpose.ROTATE_90
    )
    sides = Image.new("L", size, 0)
    pen = ImageDraw.Draw(sides)
    pen.polygon([(0, 0), (rail, rail), (rail, height - rail), (0, height)], fill=255)
    pen.polygon(
        [(width, 0), (width - rail, rail), (width - rail, height - rail), (width, height)],
        fill=255,
    )
    framed = Image.composite(standing, lying, sides)
    inner = width - 2 * rail, height - 2 * rail
    cloth = Image.new("RGB", inner, backing.colour)
    weave = _noise(inner, backing.weave, rng).convert("RGB")
    framed.paste(ImageChops.subtract(cloth, weave), (rail, rail))
    pen = ImageDraw.Draw(framed, "RGBA")
    for corner in ((0, 0), (width, 0), (width, height), (0, height)):
        inwards = abs(corner[0] - rail), abs(corner[1] - rail)
        pen.line([corner, inwards], fill=(40, 24, 8, 150), width=2)
    for inset in range(6):
        box = (inset, inset, width - 1 - inset, height - 1 - inset)
        pen.rectangle(box, outline=(255, 244, 220, 70 - 11 * inset))
        within = rail - 1 - inset
        box = (within, within, width - 1 - within, height - 1 - within)
        pen.rectangle(box, outline=(36, 20, 6, 150 - 24 * inset))
    return framed


def _inner_shadow(framed: Image.Image, rail: int) -> None:
    """The rails stand above the backing and shade its upper and left edge."""
    shade = Image.new("L", framed.size, 0)
    pen = ImageDraw.Draw(shade)
    width, height = framed.size
    reach = rail // 3
    pen.rectangle((rail, rail, width - rail, rail + reach), fill=150)
    pen.rectangle((rail, rail, rail + reach, height - rail), fill=150)
    shade = shade.filter(ImageFilter.GaussianBlur(reach * 0.8))
    inside = Image.new("L", framed.size, 0)
    ImageDraw.Draw(inside).rectangle((rail, rail, width - rail - 1, height - rail - 1), fill=255)
    framed.paste((18, 12, 6), (0, 0), ImageChops.multiply(shade, inside))


def _reflect(framed: Image.Image, rail: int) -> None:
    """A window's soft light across the glass."""
    width, height = framed.size
    glass = Image.new("L", framed.size, 0)
    pen = ImageDraw.Draw(glass)
    for start, wide, tone in ((0.55, 0.16, 30), (0.75, 0.05, 22)):
        left = width * start
        right = left + width * wide
        lean = height * 0.45
        pen.polygon([(left, 0), (right, 0), (right - lean, height), (left - lean, height)], tone)
    glass = glass.filter(ImageFilter.GaussianBlur(4))
    inside = Image.new("L", framed.size, 0)
    ImageDraw.Draw(inside).rectangle((rail, rail, width - rail - 1, height - rail - 1), fill=255)
    framed.paste((255, 255, 255), (0, 0), ImageChops.multiply(glass, inside))


def _on_the_wall(framed: Image.Image, rng: Random) -> Image.Image:
    wall = Image.new("RGB", (WIDTH_PX, HEIGHT_PX), _WALL)
    fall = Image.linear_gradient("L").resize((WIDTH_PX, HEIGHT_PX)).point(lambda value: value / 5)
    wall = ImageChops.subtract(wall, fall.convert("RGB"))
    wall = ImageChops.subtract(wall, _noise(wall.size, 7, rng).convert("RGB"))
    corner = (WIDTH_PX - framed.width) // 2, (HEIGHT_PX - framed.height) // 2
    _shadow(wall, Image.new("L", framed.size, 255), corner, 16, 0.5)
    wall.paste(framed, corner)
    return wall


def _wobbly_slab(size: tuple[int, int], rng: Random) -> Image.Image:
    """A slab rolled out by hand: rounded corners and an edge that is not quite straight."""
    width, height = size
    mask = Image.new("L", size, 0)
    edge = 26
    box = (edge, edge, width - edge, height - edge)
    ImageDraw.Draw(mask).rounded_rectangle(box, radius=56, fill=255)
    waves = Image.frombytes("L", (7, 9), rng.randbytes(63)).resize(size, Image.Resampling.BICUBIC)
    soft = mask.filter(ImageFilter.GaussianBlur(18))
    return ImageChops.add(soft, waves.point(lambda value: value / 3), 1, -42).point(_crisp)


def _jpeg(picture: Image.Image) -> bytes:
    made = io.BytesIO()
    picture.convert("RGB").save(made, "JPEG", quality=QUALITY)
    return made.getvalue()
