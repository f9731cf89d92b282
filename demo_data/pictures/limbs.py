"""Outlines and height maps of hands and feet, made of capsules."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from PIL import Image, ImageChops, ImageDraw, ImageFilter

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Shape:
    """One limb: "hand" or "foot", which side, heel to toe or wrist to fingertip."""

    kind: str
    left: bool
    length_mm: float


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


@lru_cache(maxsize=4)
def relief(kind: str, length: int, side: int) -> tuple[Image.Image, Image.Image]:
    """The outline (antialiased) and the height map of a right limb in a square of `side` px."""
    hand = kind == "hand"
    body, pads, creases = (
        (_HAND, _HAND_PADS, _HAND_CREASES) if hand else (_FOOT, _FOOT_PADS, _FOOT_CREASES)
    )
    place = _placed(length, side, -0.07 if hand else 0.0)
    mask = _drawn(body, side, place, 255).filter(ImageFilter.GaussianBlur(length / 130))
    mask = mask.point(crisp)
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


def crisp(value: int) -> int:
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
