"""Frame design: layout of the casts, choice of size, cut list, weight and hanging.

Lengths in millimetres, masses in grams, angles in degrees. Rail lengths and moulding needed: vermonthardwoods.com,
ashcraftframing.co.uk, framing4yourself.com [src]. Depth of the rebate: ashcraftframing.wordpress.com [src]. Glass
2.5 kg/m² per millimetre: EN 572-1 [src]; oak 702 kg/m³ at 12 %: europeanwood.org [src]; acrylic 1.2 and MDF 750
[trade]. Two fixings, four times the load, never above a cot or bed: our policy.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, hypot, radians, sin
from typing import Literal

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

Limb = Literal["left_hand", "right_hand", "left_foot", "right_foot"]

GLASS_G_PER_M2_MM = 2500.0

ACRYLIC_G_PER_M2_MM = 1200.0

OAK_KG_PER_M3 = 702.0

MDF_KG_PER_M3 = 750.0

FIXINGS = 2

LOAD_MARGIN = 4

# From this weight on: a screw in masonry or a stud, no picture hook.
HEAVY_G = 3000.0

_MM3_PER_M3 = 1e9

_MM2_PER_M2 = 1e6


class CannotFrame(ValueError):
    """What was asked for cannot be framed; the message says why."""


@dataclass(frozen=True, slots=True)
class Cast:
    """One cast to place: its size with fingers or toes up, and its child's rank by age (0 is the oldest)."""

    name: str
    limb: Limb
    width_mm: float
    height_mm: float
    depth_mm: float = 20.0
    rank: int = 0


@dataclass(frozen=True, slots=True)
class Margins:
    """Distances from the edge of the opening to the casts, and between casts and plate."""

    edge_mm: float = 25.0
    gap_mm: float = 15.0


@dataclass(frozen=True, slots=True)
class Plate:
    """A plaque or a line of engraving below the casts."""

    words: str
    width_mm: float = 80.0
    height_mm: float = 20.0


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle, its origin at the top left of the opening."""

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
class PlacedCast:
    """A cast and its place in the opening."""

    cast: Cast
    box: Box


@dataclass(frozen=True, slots=True)
class Layout:
    """Casts and plate placed in one opening of `width_mm` × `height_mm`."""

    width_mm: float
    height_mm: float
    casts: tuple[PlacedCast, ...]
    plate: Plate | None = None
    plate_box: Box | None = None


@dataclass(frozen=True, slots=True)
class FrameSize:
    """A frame size by its opening, in the orientation in which it hangs."""

    name: str
    width_mm: int
    height_mm: int


@dataclass(frozen=True, slots=True)
class ChosenFrame:
    """The chosen size and its layout; `made_to_measure` if no size of the range holds the casts."""

    size: FrameSize
    layout: Layout
    made_to_measure: bool


def opening_needed(
    casts: Sequence[Cast], margins: Margins, plate: Plate | None, *, rows: int
) -> tuple[float, float]:
    """Least width and height of an opening for the casts in `rows` rows. Raises CannotFrame without a cast."""
    laid = _divide_into_rows(casts, rows)
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
    """Place the casts centred in an opening: left hands and feet on the left, the oldest child first.

    In one row the casts of a child stay together, left before right; in several, hands are above feet or child above
    child. Spare room is shared evenly by the gaps. Raises CannotFrame if the opening is too small.
    """
    least_width, least_height = opening_needed(casts, margins, plate, rows=rows)
    if width_mm < least_width or height_mm < least_height:
        raise CannotFrame(
            f"The casts need an opening of {ceil(least_width)} × {ceil(least_height)} mm."
        )
    laid = _divide_into_rows(casts, rows)
    parts = len(laid) + (plate is not None)
    spare = (height_mm - least_height) / (parts + 1)
    y, found = margins.edge_mm + spare, []
    for row in laid:
        tall = max(cast.height_mm for cast in row)
        found += _place_row(row, y, tall, width_mm, margins)
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
) -> ChosenFrame:
    """Choose the smallest frame of the range that holds the casts, upright or on its side; else made to measure.

    Smallest by area, then by the longer side. Made to measure is rounded up to whole centimetres.
    Raises CannotFrame without a cast.
    """
    ways = [
        (rows, *opening_needed(casts, margins, plate, rows=rows))
        for rows in _possible_row_counts(casts)
    ]
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
        size = FrameSize("made to measure", _round_up_to_cm(width), _round_up_to_cm(height))
    layout = lay_out(casts, size.width_mm, size.height_mm, margins, plate, rows=rows)
    return ChosenFrame(size, layout, made_to_measure=not fitting)


def _possible_row_counts(casts: Sequence[Cast]) -> range:
    children = len({cast.rank for cast in casts})
    kinds = len({cast.limb.endswith("foot") for cast in casts})
    return range(1, max(children, kinds, 1) + 1)


def _divide_into_rows(casts: Sequence[Cast], rows: int) -> list[list[Cast]]:
    """Divide the casts: all in one row, one child's hands above its feet, or the children evenly among the rows."""
    if not casts:
        raise CannotFrame("There is no cast to frame.")
    ordered = sorted(casts, key=_row_order)
    if rows == 1:
        return [ordered]
    ranks = sorted({cast.rank for cast in casts})
    if len(ranks) == 1:
        kinds = [[c for c in ordered if c.limb.endswith(kind)] for kind in ("hand", "foot")]
        return [row for row in kinds if row]
    each = ceil(len(ranks) / rows)
    shares = [set(ranks[at : at + each]) for at in range(0, len(ranks), each)]
    return [[cast for cast in ordered if cast.rank in share] for share in shares]


def _row_order(cast: Cast) -> tuple[int, bool, bool]:
    # A cast shows the hand as the child sees its own: the left hand belongs on the left.
    return cast.rank, cast.limb.startswith("right"), cast.limb.endswith("foot")


def _place_row(
    row: Sequence[Cast], y: float, tall: float, width_mm: float, margins: Margins
) -> list[PlacedCast]:
    """Place casts side by side, wrists and heels on one line, spare room shared evenly."""
    taken = sum(cast.width_mm for cast in row) + margins.gap_mm * (len(row) - 1)
    spare = (width_mm - 2 * margins.edge_mm - taken) / (len(row) + 1)
    x, found = margins.edge_mm + spare, []
    for cast in row:
        top = y + tall - cast.height_mm
        found.append(PlacedCast(cast, Box(x, top, cast.width_mm, cast.height_mm)))
        x += cast.width_mm + margins.gap_mm + spare
    return found


def _round_up_to_cm(length_mm: float) -> int:
    return ceil(length_mm / 10) * 10


@dataclass(frozen=True, slots=True)
class Moulding:
    """Section of a moulding: face W, height D, rebate R wide and d deep; allowance A; loss C per cut."""

    face_mm: float = 30.0
    height_mm: float = 35.0
    rebate_mm: float = 8.0
    rebate_depth_mm: float = 25.0
    allowance_mm: float = 3.0
    loss_mm: float = 5.0
    density_kg_per_m3: float = OAK_KG_PER_M3


@dataclass(frozen=True, slots=True)
class Stack:
    """Layers in the rebate from the front: glazing, mounts, the cast with air before it, the back."""

    glazing_mm: float = 2.0
    mount_mm: float = 0.0
    cast_mm: float = 0.0
    air_mm: float = 0.0
    undermount_mm: float = 0.0
    back_mm: float = 2.5

    @property
    def spacer_mm(self) -> float:
        """Height of the spacer between glazing and backing, so that no cast touches the glass."""
        return self.cast_mm + self.air_mm

    @property
    def depth_mm(self) -> float:
        return self.glazing_mm + self.mount_mm + self.spacer_mm + self.undermount_mm + self.back_mm


def rail_mm(rebate_side_mm: float, moulding: Moulding) -> float:
    """Outer length of a mitred rail: D + 2(W - R) + A."""
    return rebate_side_mm + 2 * (moulding.face_mm - moulding.rebate_mm) + moulding.allowance_mm


def moulding_needed_mm(width_mm: float, height_mm: float, moulding: Moulding) -> float:
    """Length of moulding for one frame: its four rails and the three losses between them."""
    rails = 2 * rail_mm(width_mm, moulding) + 2 * rail_mm(height_mm, moulding)
    return rails + 3 * moulding.loss_mm


def rebate_size_mm(sight_mm: float, moulding: Moulding) -> float:
    """Size of the board or pane behind an opening of `sight_mm`: covered by the rebate on both sides."""
    return sight_mm + 2 * moulding.rebate_mm


def rebate_holds(stack: Stack, moulding: Moulding) -> bool:
    return stack.depth_mm <= moulding.rebate_depth_mm


def tape_mm(width_mm: float, height_mm: float, overlap_mm: float = 20.0) -> float:
    """Length of sealing tape round the back, each side with its overlap."""
    return 2 * (width_mm + height_mm) + 4 * overlap_mm


def rails_volume_mm3(width_mm: float, height_mm: float, moulding: Moulding) -> float:
    """Volume of four mitred rails round a rebate size: D(W·Ps + 4W²) - d(R·Ps + 4R²), Ps the sight perimeter."""
    m = moulding
    sight = 2 * (width_mm + height_mm) - 8 * m.rebate_mm
    whole = m.height_mm * (m.face_mm * sight + 4 * m.face_mm**2)
    return whole - m.rebate_depth_mm * (m.rebate_mm * sight + 4 * m.rebate_mm**2)


@dataclass(frozen=True, slots=True)
class Weight:
    """Weight of a framed work by its parts, in grams."""

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
    """Compute the weight of a frame for boards of this size from densities; the rebate is larger by A."""
    area_m2 = width_mm * height_mm / _MM2_PER_M2
    pane = ACRYLIC_G_PER_M2_MM if acrylic else GLASS_G_PER_M2_MM
    back_m3 = width_mm * height_mm * stack.back_mm / _MM3_PER_M3
    rebate = width_mm + moulding.allowance_mm, height_mm + moulding.allowance_mm
    wood_m3 = rails_volume_mm3(*rebate, moulding) / _MM3_PER_M3
    return Weight(
        wood_m3 * moulding.density_kg_per_m3 * 1000,
        area_m2 * stack.glazing_mm * pane,
        back_m3 * MDF_KG_PER_M3 * 1000,
        casts_g,
        fittings_g,
    )


def wire_tension_g(hung_g: float, angle_deg: float) -> float:
    """Tension in each half of a hanging wire at `angle_deg`: w / (2 sin a). Raises CannotFrame unless 0 < angle ≤ 90."""
    if not 0 < angle_deg <= 90:  # noqa: PLR2004 - a right angle
        raise CannotFrame("A wire rises by more than 0 and at most 90 degrees.")
    return hung_g / (2 * sin(radians(angle_deg)))


@dataclass(frozen=True, slots=True)
class Hanging:
    """How to hang a frame: the fixings, the load that each must hold, the strength of the wire, and cautions."""

    fixings: int
    each_holds_g: float
    wire_g: float
    cautions: tuple[str, ...]


NEVER_ABOVE_A_CHILD = gettext_noop(
    "Never above a cot, a bed or a place where a child sleeps or plays: casts, glass and oak are "
    "heavy, and a fixing can give way."
)

HEAVY = gettext_noop("Heavy: screws into masonry or a stud, no adhesive strip and no single nail.")


def hanging(hung_g: float, wire_angle_deg: float = 30.0) -> Hanging:
    """Advise on hanging: two fixings that each hold four times their half, a wire for four times its tension."""
    cautions = (NEVER_ABOVE_A_CHILD, HEAVY) if hung_g >= HEAVY_G else (NEVER_ABOVE_A_CHILD,)
    pull_g = wire_tension_g(hung_g, wire_angle_deg)
    each_g, words = hung_g * LOAD_MARGIN / FIXINGS, tuple(_(caution) for caution in cautions)
    return Hanging(FIXINGS, each_g, pull_g * LOAD_MARGIN, words)


def diagonal_mm(width_mm: float, height_mm: float) -> float:
    """Diagonal of a rectangle: a frame is square when both are equal; measure before the glue sets."""
    return hypot(width_mm, height_mm)
