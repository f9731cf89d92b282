"""Plaster and water for the pieces to pour: predicted from the measured outline, the print, or the age of the child."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import TYPE_CHECKING, Self, cast

from django.utils import timezone

from bookings.sittings import ages
from production import plaster
from production.casts import limb_sizes
from production.casts.forecasts import workshop
from production.casts.models import Plaster, Workshop
from production.casts.pieces import pieces_to_pour
from studio.accounts.models import Unit
from studio.jobs.models import Piece
from studio.limbs import Limb

if TYPE_CHECKING:
    from bookings.sittings.models import ClayPrint


POURS_LEARNT_FROM = 60


@dataclass(frozen=True, slots=True)
class Mixing:
    """A unit's plaster, usual depth and margin of a mould, scale, and learnt correction of predicted volumes."""

    consistency: float
    purity: float = 1.0
    density_g_per_ml: float = plaster.PLASTER_DENSITY_G_PER_ML
    depth_mm: float = 20
    margin_mm: float = 20
    scale_g: float = 0.5
    fill: plaster.FillFactor = plaster.NO_CORRECTION

    def at(self, consistency: float) -> Self:
        """Return the same with another consistency (parts of water to 100 of plaster)."""
        return replace(self, consistency=consistency)

    def of(self, kind: Plaster) -> Self:
        """Return the same with another kind of plaster."""
        return replace(
            self,
            consistency=kind.consistency,
            purity=kind.purity,
            density_g_per_ml=kind.density_g_per_ml,
        )

    def mix(self, volume_ml: float) -> plaster.Mix:
        """Return the plaster and water for a volume in ml."""
        return plaster.mix(volume_ml, self.consistency, self.purity, self.density_g_per_ml)


@dataclass(frozen=True, slots=True)
class PrintToPour:
    """A print that waits in the clay, with its predicted mix."""

    piece: Piece
    taken_at: datetime
    tray: str
    mix: plaster.Mix
    measured: bool

    @property
    def key(self) -> str:
        """The primary key of its piece as a form sends it."""
        return str(self.piece.pk)


@dataclass(frozen=True, slots=True)
class Bucketful:
    """The pieces of one mix, its plaster and water, and the number of buckets it needs."""

    rows: tuple[PrintToPour, ...]
    mix: plaster.Mix
    buckets: int


@dataclass(frozen=True, slots=True)
class InBag:
    """What the plaster left in a bag makes, whether it fills the ticked pieces, and how many grams are missing."""

    mix: plaster.Mix
    fills_all: bool
    short_g: float


@dataclass(frozen=True, slots=True)
class ProposedPour:
    """The waiting prints, the ticked ones (primary keys as strings) and the mix for these.

    `kind`: the plaster of the mix, None if the unit has recorded none.
    """

    waiting: list[PrintToPour]
    ticked: frozenset[str]
    mix: plaster.Mix
    mixing: Mixing
    kind: Plaster | None
    kinds: Sequence[Plaster]
    batches: list[Bucketful]
    workshop: Workshop
    in_bag: InBag | None

    @property
    def amounts(self) -> dict[str, object]:
        """Initial values of the pour form in whole grams; empty if nothing is ticked."""
        if not self.ticked:
            return {}
        return {"plaster_g": round(self.mix.plaster_g), "water_g": round(self.mix.water_g)}

    @property
    def heat_c(self) -> tuple[float, float]:
        """Range of the highest temperature while setting, °C."""
        return plaster.setting_heat_c(
            self.mixing.consistency, self.mixing.purity, self.workshop.temperature_c
        )

    @property
    def working_minutes(self) -> int:
        return (self.kind or _plain()).working_minutes

    @property
    def set_minutes(self) -> int:
        return (self.kind or _plain()).set_minutes

    @property
    def strength_known(self) -> bool:
        return plaster.has_published_strength(self.mixing.consistency)


def live_print(piece: Piece) -> "ClayPrint | None":
    """Return the current print of a piece, taken or planned; None without one. No query if prints are loaded."""
    return next((each for each in piece.prints.all() if each.live), None)


def sitting_day(piece: Piece, otherwise: date) -> date:
    """Return the local day of the piece's print or planned sitting; `otherwise` without either."""
    found = live_print(piece)
    if found is None:
        return otherwise
    return timezone.localdate(found.taken_at or found.sitting.starts_at)


def mixing_of(unit: Unit) -> Mixing:
    """Return how the unit mixes now. Three queries: call it once for all pieces of a page."""
    tools = workshop(unit)
    usual = unit.plasters.in_use().filter(usual=True).first()
    mixing = Mixing(
        unit.consistency,
        depth_mm=tools.depth_mm,
        margin_mm=tools.margin_mm,
        scale_g=tools.scale_g,
        fill=learnt_fill(unit),
    )
    return mixing.of(usual) if usual else mixing


def learnt_fill(unit: Unit) -> plaster.FillFactor:
    """Learn by how much the unit's moulds take more or less than predicted, from its last pours. One query."""
    pours = unit.pours.filter(left_g__isnull=False, foreseen_ml__gt=0).newest_first()
    rows = pours.values_list(
        "foreseen_ml", "plaster_g", "water_g", "left_g", "plaster__density_g_per_ml"
    )
    return plaster.learn_fill(
        [
            plaster.PourVolume(
                foreseen_ml or 1.0, plaster.filled_ml(plaster_g, water_g, left_g or 0, density)
            )
            for foreseen_ml, plaster_g, water_g, left_g, density in rows[:POURS_LEARNT_FROM]
        ]
    )


def volume_ml(piece: Piece, mixing: Mixing, today: date) -> float:
    """Predict the volume of a piece's mould in ml.

    From its measured outline; else from a slab round the length measured at the sitting; else from a slab for the
    limb of 90 % of children of its age. The unit's own correction applies to predictions only, and never makes the
    slab of a measured print smaller: it was learnt mostly on slabs for large limbs, and slurry that runs short spoils
    a cast. No query if child, mould, prints and sittings are loaded.
    """
    mould = getattr(piece, "mould", None)
    if mould:
        outline = cast("plaster.Outline", mould.outline)
        return plaster.mould_volume_ml(outline, mould.length_mm, mould.width_mm, mould.depth_mm)
    on = sitting_day(piece, today)
    days = ages.corrected_days(piece.child.born_on, piece.child.due_on, on)
    kind = cast("limb_sizes.Limb", Limb(piece.limb).kind)
    months = limb_sizes.age_in_months(max(days, 0))
    print_mm = _believed_mm(piece, kind, months)
    slab_ml = plaster.limb_slab_ml(
        print_mm or limb_sizes.expected_length(kind, months).high_mm,
        limb_sizes.expected_breadth(kind, months).high_mm,
        mixing.depth_mm,
        mixing.margin_mm,
    )
    return slab_ml * (max(1.0, mixing.fill.factor) if print_mm else mixing.fill.factor)


def _believed_mm(piece: Piece, kind: "limb_sizes.Limb", months: float) -> float | None:
    """Length in mm measured at the sitting; None without one or if it is hardly possible at this age."""
    found = live_print(piece)
    if found is None or not found.length_mm:
        return None
    hardly = limb_sizes.check_length(kind, months, found.length_mm).verdict == "hardly"
    return None if hardly else float(found.length_mm)


def mix_of(piece: Piece, mixing: Mixing, today: date) -> plaster.Mix:
    """Return the predicted mix of one piece. No query if child, mould, prints and sittings are loaded."""
    return mixing.mix(volume_ml(piece, mixing, today))


def predicted_mix(pieces: Iterable[Piece], mixing: Mixing, today: date) -> plaster.Mix:
    """Return the predicted mix of these pieces together. No query if they are loaded as for `mix_of`."""
    return plaster.total_mix(mix_of(piece, mixing, today) for piece in pieces)


def proposed_pour(
    unit: Unit,
    chosen: Iterable[str] | None,
    now: datetime,
    *,
    plaster_pk: str = "",
    bag_g: float | None = None,
) -> ProposedPour:
    """Propose the mix for the chosen pieces (primary keys as strings), or for all that wait if `chosen` is None.

    With the plaster of `plaster_pk`, else the usual one; with `bag_g` also what that many grams make. Seven queries.
    """
    kinds = list(unit.plasters.in_use())
    kind = next((each for each in kinds if str(each.pk) == plaster_pk), None)
    kind = kind or next((each for each in kinds if each.usual), None)
    mixing = mixing_of(unit).of(kind) if kind else mixing_of(unit)
    waiting = _prints_to_pour(unit, mixing, timezone.localdate(now))
    wanted = None if chosen is None else set(chosen)
    ticked = [each for each in waiting if wanted is None or each.key in wanted]
    tools = workshop(unit)
    mix = plaster.total_mix(each.mix for each in ticked)
    return ProposedPour(
        waiting=waiting,
        ticked=frozenset(each.key for each in ticked),
        mix=mix,
        mixing=mixing,
        kind=kind,
        kinds=kinds,
        batches=_bucketfuls(ticked, mixing, tools, kind),
        workshop=tools,
        in_bag=_in_bag(bag_g, mix, mixing) if bag_g else None,
    )


def _prints_to_pour(unit: Unit, mixing: Mixing, today: date) -> list[PrintToPour]:
    return [
        PrintToPour(
            piece,
            found.taken_at,
            found.tray,
            mix_of(piece, mixing, today),
            measured=hasattr(piece, "mould"),
        )
        for piece in pieces_to_pour(unit)
        if (found := live_print(piece)) and found.taken_at
    ]


def _bucketfuls(
    ticked: list[PrintToPour], mixing: Mixing, tools: Workshop, kind: Plaster | None
) -> list[Bucketful]:
    minutes = (kind or _plain()).working_minutes
    volumes = [each.mix.volume_ml for each in ticked]
    return [
        Bucketful(
            tuple(ticked[index] for index in one.moulds), mixing.mix(one.volume_ml), one.buckets
        )
        for one in plaster.bucket_batches(volumes, tools.bucket_ml, minutes)
    ]


def _plain() -> Plaster:
    """Return a casting plaster with default figures, for a unit that has recorded none."""
    return Plaster()


def _in_bag(bag_g: float, wanted: plaster.Mix, mixing: Mixing) -> InBag:
    made = plaster.mix_from_powder(
        bag_g, mixing.consistency, mixing.purity, mixing.density_g_per_ml
    )
    short_g = max(0.0, wanted.plaster_g - bag_g)
    return InBag(made, fills_all=short_g == 0, short_g=short_g)
