"""From casts to a frame: where each lies, which size holds them, what is cut, what it weighs.

Lengths in millimetres, masses in grams, angles in degrees. Rail lengths and moulding needed:
vermonthardwoods.com, ashcraftframing.co.uk, framing4yourself.com [src]. Depth of the rebate:
ashcraftframing.wordpress.com [src]. Glass 2.5 kg/m² a millimetre: EN 572-1 [src]; oak 702 kg/m³ at
12 %: europeanwood.org [src]; acrylic 1.2 and MDF 750 [trade]. Two fixings and four times the load, never above
a cot or bed: our policy.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, hypot, radians, sin
from typing import Literal

Limb = Literal["left_hand", "right_hand", "left_foot", "right_foot"]

GLASS_G_PER_M2_MM = 2500.0
ACRYLIC_G_PER_M2_MM = 1200.0
OAK_KG_PER_M3 = 702.0
MDF_KG_PER_M3 = 750.0
FIXINGS = 2
LOAD_MARGIN = 4
# Heavier than this hangs on a screw in masonry or a stud, not on a picture hook.
HEAVY_G = 3000.0
_MM3_IN_A_M3 = 1e9
_MM2_IN_A_M2 = 1e6


class CannotFrame(ValueError):
    """What was asked for cannot be framed; the sentence says why."""


# --- the layout ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Cast:
    """One cast to be laid: its size, fingers or toes up, its child's rank by age (0 the oldest)."""

    name: str
    limb: Limb
    width_mm: float
    height_mm: float
    depth_mm: float = 20.0
    rank: int = 0


@dataclass(frozen=True, slots=True)
class Margins:
    """Between the opening's edge and the casts, between casts, and above the plate."""

    edge_mm: float = 25.0
    gap_mm: float = 15.0


@dataclass(frozen=True, slots=True)
class Plate:
    """A plaque, or a line of engraving, below the casts."""

    words: str
    width_mm: float = 80.0
    height_mm: float = 20.0


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle from the top left corner of the opening."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float

    @property
    def right_mm(self) -> float:
        return self.x_mm + self.width_mm

    @property
    def bottom_mm(self) -> float:
        return self.y_mm + self.height_mm


@dataclass(frozen=True, slots=True)
class Laid:
    """A cast and its place."""

    cast: Cast
    box: Box


@dataclass(frozen=True, slots=True)
class Layout:
    """Everything inside one opening of `width_mm` × `height_mm`."""

    width_mm: float
    height_mm: float
    casts: tuple[Laid, ...]
    plate: Plate | None = None
    plate_box: Box | None = None


@dataclass(frozen=True, slots=True)
class FrameSize:
    """A size of the range: what is seen inside the frame, lying as it hangs."""

    name: str
    width_mm: int
    height_mm: int


@dataclass(frozen=True, slots=True)
class Fit:
    """The chosen size and its layout. `made_to_measure` where none of the range holds the casts."""

    size: FrameSize
    layout: Layout
    made_to_measure: bool


def needed(
    casts: Sequence[Cast], margins: Margins, plate: Plate | None, *, rows: int
) -> tuple[float, float]:
    """Width and height of the opening for so many rows. Raises CannotFrame without a cast."""
    laid = _rows(casts, rows)
    gap, edge = margins.gap_mm, margins.edge_mm
    width = max(sum(c.width_mm for c in row) + gap * (len(row) - 1) for row in laid)
    height = sum(max(c.height_mm for c in row) for row in laid) + gap * (len(laid) - 1)
    if plate:
        width, height = max(width, plate.width_mm), height + gap + plate.height_mm
    return width + 2 * edge, height + 2 * edge


def lay_out(
    casts: Sequence[Cast],
    width_mm: float,
    height_mm: float,
    margins: Margins,
    plate: Plate | None = None,
    *,
    rows: int = 1,
) -> Layout:
    """Centre the casts in an opening: left hands and feet at the left, the oldest child first.

    In one row a child's casts stand together, left before right; in more, hands above feet or child
    above child. What room is over goes evenly into the gaps. Raises CannotFrame where it is too small.
    """
    least_width, least_height = needed(casts, margins, plate, rows=rows)
    if width_mm < least_width or height_mm < least_height:
        raise CannotFrame(
            f"The casts need an opening of {ceil(least_width)} × {ceil(least_height)} mm."
        )
    laid = _rows(casts, rows)
    parts = len(laid) + (plate is not None)
    spare = (height_mm - least_height) / (parts + 1)
    y, found = margins.edge_mm + spare, []
    for row in laid:
        tall = max(cast.height_mm for cast in row)
        found += _row(row, y, tall, width_mm, margins)
        y += tall + margins.gap_mm + spare
    box = None
    if plate:
        box = Box((width_mm - plate.width_mm) / 2, y, plate.width_mm, plate.height_mm)
    return Layout(width_mm, height_mm, tuple(found), plate, box)


def choose_size(
    casts: Sequence[Cast],
    sizes: Iterable[FrameSize],
    margins: Margins,
    plate: Plate | None = None,
) -> Fit:
    """The smallest frame of the range that holds the casts, upright or lying; else made to measure.

    Smallest by area, then by its longer side. Made to measure is rounded up to whole centimetres.
    Raises CannotFrame without a cast.
    """
    ways = [(rows, *needed(casts, margins, plate, rows=rows)) for rows in _row_counts(casts)]
    turned = [
        FrameSize(size.name, *sides)
        for size in sizes
        for sides in dict.fromkeys(
            [(size.width_mm, size.height_mm), (size.height_mm, size.width_mm)]
        )
    ]
    fitting = [
        (size.width_mm * size.height_mm, max(size.width_mm, size.height_mm), rows, size)
        for size in turned
        for rows, width, height in ways
        if width <= size.width_mm and height <= size.height_mm
    ]
    if fitting:
        *_, rows, size = min(fitting, key=lambda each: each[:3])
    else:
        rows, width, height = min(ways, key=lambda way: way[1] * way[2])
        size = FrameSize("made to measure", _up_to_cm(width), _up_to_cm(height))
    layout = lay_out(casts, size.width_mm, size.height_mm, margins, plate, rows=rows)
    return Fit(size, layout, made_to_measure=not fitting)


def _row_counts(casts: Sequence[Cast]) -> range:
    children = len({cast.rank for cast in casts})
    kinds = len({cast.limb.endswith("foot") for cast in casts})
    return range(1, max(children, kinds, 1) + 1)


def _rows(casts: Sequence[Cast], rows: int) -> list[list[Cast]]:
    """One row of all; a row a child where there are so many; else hands above feet, shared out."""
    if not casts:
        raise CannotFrame("There is no cast to frame.")
    ordered = sorted(casts, key=_place_in_row)
    if rows == 1:
        return [ordered]
    ranks = sorted({cast.rank for cast in casts})
    if len(ranks) == 1:
        kinds = [[c for c in ordered if c.limb.endswith(kind)] for kind in ("hand", "foot")]
        return [row for row in kinds if row]
    each = ceil(len(ranks) / rows)
    shares = [set(ranks[at : at + each]) for at in range(0, len(ranks), each)]
    return [[cast for cast in ordered if cast.rank in share] for share in shares]


def _place_in_row(cast: Cast) -> tuple[int, bool, bool]:
    # A print is seen from above, as the child sees its own hand: its left is on our left.
    return cast.rank, cast.limb.startswith("right"), cast.limb.endswith("foot")


def _row(
    row: Sequence[Cast], y: float, tall: float, width_mm: float, margins: Margins
) -> list[Laid]:
    """Casts side by side on one line of wrists and heels, room to spare shared evenly."""
    taken = sum(cast.width_mm for cast in row) + margins.gap_mm * (len(row) - 1)
    spare = (width_mm - 2 * margins.edge_mm - taken) / (len(row) + 1)
    x, found = margins.edge_mm + spare, []
    for cast in row:
        top = y + tall - cast.height_mm
        found.append(Laid(cast, Box(x, top, cast.width_mm, cast.height_mm)))
        x += cast.width_mm + margins.gap_mm + spare
    return found


def _up_to_cm(length_mm: float) -> int:
    return ceil(length_mm / 10) * 10


# --- the cut list ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Moulding:
    """Its section in millimetres: face W, height D, rebate R wide and d deep; allowance A; loss C a cut."""

    face_mm: float = 30.0
    height_mm: float = 35.0
    rebate_mm: float = 8.0
    rebate_depth_mm: float = 25.0
    allowance_mm: float = 3.0
    loss_mm: float = 5.0
    density_kg_per_m3: float = OAK_KG_PER_M3


@dataclass(frozen=True, slots=True)
class Stack:
    """What lies in the rebate from the front: glazing, mounts, the cast with air before it, the back."""

    glazing_mm: float = 2.0
    mount_mm: float = 0.0
    cast_mm: float = 0.0
    air_mm: float = 0.0
    undermount_mm: float = 0.0
    back_mm: float = 2.5

    @property
    def spacer_mm(self) -> float:
        """Between glazing and backing, so that the highest cast does not touch the glass."""
        return self.cast_mm + self.air_mm

    @property
    def depth_mm(self) -> float:
        return self.glazing_mm + self.mount_mm + self.spacer_mm + self.undermount_mm + self.back_mm


def rail_mm(rebate_side_mm: float, moulding: Moulding) -> float:
    """Outer length of a mitred rail: D + 2(W - R) + A."""
    return rebate_side_mm + 2 * (moulding.face_mm - moulding.rebate_mm) + moulding.allowance_mm


def moulding_needed_mm(width_mm: float, height_mm: float, moulding: Moulding) -> float:
    """What one frame takes: its four rails and the three losses between them."""
    rails = 2 * rail_mm(width_mm, moulding) + 2 * rail_mm(height_mm, moulding)
    return rails + 3 * moulding.loss_mm


def moulding_by_rule(width: float, height: float, face: float, allowance: float = 0.0) -> float:
    """The handbooks' rule: the sides, eight times the face width, the allowance once. Any one unit."""
    return 2 * (width + height) + 8 * face + allowance


def rebate_size_mm(sight_mm: float, moulding: Moulding) -> float:
    """The board or pane behind an opening of `sight_mm`: the rebate covers it on both sides."""
    return sight_mm + 2 * moulding.rebate_mm


def rebate_holds(stack: Stack, moulding: Moulding) -> bool:
    return stack.depth_mm <= moulding.rebate_depth_mm


def tape_mm(width_mm: float, height_mm: float, overlap_mm: float = 20.0) -> float:
    """Sealing tape round the back, each side with its overlap."""
    return 2 * (width_mm + height_mm) + 4 * overlap_mm


# --- the weight ------------------------------------------------------------------------------------


def rails_volume_mm3(width_mm: float, height_mm: float, moulding: Moulding) -> float:
    """Four mitred rails round a rebate size: D(W·Ps + 4W²) - d(R·Ps + 4R²), Ps the sight perimeter."""
    m = moulding
    sight = 2 * (width_mm + height_mm) - 8 * m.rebate_mm
    whole = m.height_mm * (m.face_mm * sight + 4 * m.face_mm**2)
    return whole - m.rebate_depth_mm * (m.rebate_mm * sight + 4 * m.rebate_mm**2)


@dataclass(frozen=True, slots=True)
class Weight:
    """What hangs on the wall, part by part, in grams."""

    wood_g: float
    glazing_g: float
    back_g: float
    casts_g: float
    fittings_g: float

    @property
    def hung_g(self) -> float:
        return self.wood_g + self.glazing_g + self.back_g + self.casts_g + self.fittings_g


def hung_weight(
    width_mm: float,
    height_mm: float,
    moulding: Moulding,
    stack: Stack,
    *,
    casts_g: float,
    fittings_g: float = 50.0,
    acrylic: bool = False,
) -> Weight:
    """The weight of a frame for boards of this size, from densities; its rebate is larger by A."""
    area_m2 = width_mm * height_mm / _MM2_IN_A_M2
    pane = ACRYLIC_G_PER_M2_MM if acrylic else GLASS_G_PER_M2_MM
    back_m3 = width_mm * height_mm * stack.back_mm / _MM3_IN_A_M3
    rebate = width_mm + moulding.allowance_mm, height_mm + moulding.allowance_mm
    wood_m3 = rails_volume_mm3(*rebate, moulding) / _MM3_IN_A_M3
    return Weight(
        wood_m3 * moulding.density_kg_per_m3 * 1000,
        area_m2 * stack.glazing_mm * pane,
        back_m3 * MDF_KG_PER_M3 * 1000,
        casts_g,
        fittings_g,
    )


def wire_tension_g(hung_g: float, angle_deg: float) -> float:
    """Pull in each half of a hanging wire that rises by `angle_deg`: w / (2 sin a). 0 < angle ≤ 90."""
    if not 0 < angle_deg <= 90:  # noqa: PLR2004 - a right angle
        raise CannotFrame("A wire rises by more than 0 and at most 90 degrees.")
    return hung_g / (2 * sin(radians(angle_deg)))


@dataclass(frozen=True, slots=True)
class Hanging:
    """How to hang it: two fixings, each good for so much; the wire, and what to be careful of."""

    fixings: int
    each_holds_g: float
    wire_g: float
    cautions: tuple[str, ...]


NEVER_ABOVE_A_CHILD = (
    "Never above a cot, a bed or a place where a child sleeps or plays: casts, glass and oak are "
    "heavy, and a fixing can give way."
)
HEAVY = "Heavy: screws into masonry or a stud, no adhesive strip and no single nail."


def hanging(hung_g: float, wire_angle_deg: float = 30.0) -> Hanging:
    """Two fixings that each hold their half four times over; the wire at four times its pull."""
    cautions = (NEVER_ABOVE_A_CHILD, HEAVY) if hung_g >= HEAVY_G else (NEVER_ABOVE_A_CHILD,)
    pull_g = wire_tension_g(hung_g, wire_angle_deg)
    return Hanging(FIXINGS, hung_g * LOAD_MARGIN / FIXINGS, pull_g * LOAD_MARGIN, cautions)


def diagonal_mm(width_mm: float, height_mm: float) -> float:
    """Equal both ways when the frame is square: measure it before the glue sets."""
    return hypot(width_mm, height_mm)
