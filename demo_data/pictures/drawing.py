"""Pictures of casts and prints, drawn so that the demo needs no photograph of a child.

Shapes are drawn flat, blurred into a height map, and lit from the upper left: the difference
between a height map and itself, shifted, is how much light a slope catches.
"""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

from PIL import Image, ImageChops, ImageDraw, ImageFilter, ImageOps

from demo_data.pictures.limbs import Shape, crisp, relief

WIDTH_PX, HEIGHT_PX = 960, 720

QUALITY = 82

_FRAME_MM = 22.0

_EDGE_MM = 26.0

_MOST_IN_A_ROW = 4

Colour = tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class Backing:
    """What lies behind the casts: its colour, and how strongly its weave shows (0 to 40)."""

    colour: Colour
    weave: int


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


def clay_print(shape: Shape, *, seed: str) -> bytes:
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
    mask, height = relief(shape.kind, length, side)
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
    return ImageChops.add(soft, waves.point(lambda value: value / 3), 1, -42).point(crisp)


def _jpeg(picture: Image.Image) -> bytes:
    made = io.BytesIO()
    picture.convert("RGB").save(made, "JPEG", quality=QUALITY)
    return made.getvalue()
