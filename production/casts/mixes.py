"""How much plaster and water the waiting pieces will take: by measured outline or print, or by the children's ages."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import TYPE_CHECKING, Self, cast

from bookings.sittings import ages
from production import plaster
from production.casts import limb_sizes
from production.casts.forecasts import workshop
from production.casts.models import Plaster, Workshop
from production.casts.pieces import local_day, pieces_to_pour
from studio.accounts.models import Unit
from studio.jobs.models import Piece
from studio.limbs import Limb

if TYPE_CHECKING:
    from bookings.sittings.models import Impression


POURS_LEARNT_FROM = 60


@dataclass(frozen=True, slots=True)
class Mixing:
    """How a unit mixes and weighs: its plaster, the slab round a limb, its scale, its correction of volumes."""

    consistency: float
    purity: float = 1.0
    density_g_per_ml: float = plaster.PLASTER_DENSITY_G_PER_ML
    depth_mm: float = 20
    margin_mm: float = 20
    scale_g: float = 0.5
    fill: plaster.FillFactor = plaster.NO_CORRECTION

    def at(self, consistency: float) -> Self:
        return replace(self, consistency=consistency)

    def of(self, kind: Plaster) -> Self:
        return replace(
            self,
            consistency=kind.consistency,
            purity=kind.purity,
            density_g_per_ml=kind.density_g_per_ml,
        )

    def mix(self, volume_ml: float) -> plaster.Mix:
        return plaster.mix(volume_ml, self.consistency, self.purity, self.density_g_per_ml)


@dataclass(frozen=True, slots=True)
class PrintToPour:
    """A print that waits in the clay, and the mix that it will take."""

    piece: Piece
    taken_at: datetime
    tray: str
    mix: plaster.Mix
    measured: bool

    @property
    def key(self) -> str:
        """As a form sends it."""
        return str(self.piece.pk)


@dataclass(frozen=True, slots=True)
class Bucketful:
    """The pieces of one mix, what goes into it, and into how many buckets it is shared."""

    rows: tuple[PrintToPour, ...]
    mix: plaster.Mix
    buckets: int


@dataclass(frozen=True, slots=True)
class InBag:
    """What the rest of a bag makes: its mix, and whether that fills what is ticked."""

    mix: plaster.Mix
    fills_all: bool
    short_g: float


@dataclass(frozen=True, slots=True)
class ProposedPour:
    """All that waits, which of it is ticked (keys as strings), and the mix for that.

    `kind` is the plaster it is worked out for, None where the unit noted none down.
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
        """Whole grams for the form; empty where nothing is ticked."""
        if not self.ticked:
            return {}
        return {"plaster_g": round(self.mix.plaster_g), "water_g": round(self.mix.water_g)}

    @property
    def heat_c(self) -> tuple[float, float]:
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
        """Whether the published band of strength is of a mix like this."""
        return (
            abs(self.mixing.consistency - plaster.STRENGTH_CONSISTENCY)
            <= plaster.STRENGTH_TOLERANCE
        )


def live_print(piece: Piece) -> "Impression | None":
    """The piece's print, taken or still to be taken; no query where impressions are loaded."""
    return next((each for each in piece.impressions.all() if each.live), None)


def sitting_day(piece: Piece, otherwise: date) -> date:
    """The local day of the piece's print, or of the sitting it is planned for."""
    found = live_print(piece)
    if found is None:
        return otherwise
    return local_day(found.taken_at or found.sitting.starts_at)


def mixing_of(unit: Unit) -> Mixing:
    """Return how this unit mixes now. Three queries: ask once for all pieces of a page."""
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
    """How much more or less the unit's moulds took than foreseen in its last pours. One query."""
    pours = (
        unit.pours.filter(left_g__isnull=False, foreseen_ml__gt=0)
        .select_related("plaster")
        .newest_first()[:POURS_LEARNT_FROM]
    )
    return plaster.learn_fill(
        [plaster.PourVolume(one.foreseen_ml or 1.0, one.filled_ml) for one in pours]
    )


def volume_ml(piece: Piece, mixing: Mixing, today: date) -> float:
    """The millilitres behind its measured outline; else a slab round the length that was measured at the sitting;
    else a slab for the largest limb of nine children in ten.

    The unit's own correction is for the predicted ones. It was learnt mostly on slabs for large limbs, so it
    makes none smaller that was laid round a measured print: slurry over is thrown away, slurry short spoils a cast.
    No query where child, mould, impressions and sittings are loaded.
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
    """The length measured at the sitting; None without one, and where it is hardly possible at this age."""
    found = live_print(piece)
    if found is None or not found.length_mm:
        return None
    hardly = limb_sizes.check_length(kind, months, found.length_mm).verdict == "hardly"
    return None if hardly else float(found.length_mm)


def mix_of(piece: Piece, mixing: Mixing, today: date) -> plaster.Mix:
    """The mix for one piece; no query where child, mould, impressions and sittings are loaded."""
    return mixing.mix(volume_ml(piece, mixing, today))


def predicted_mix(pieces: Iterable[Piece], mixing: Mixing, today: date) -> plaster.Mix:
    """The mix for these pieces together, as constant in queries as their loading was."""
    return plaster.total_mix(mix_of(piece, mixing, today) for piece in pieces)


def proposed_pour(
    unit: Unit,
    chosen: Iterable[str] | None,
    now: datetime,
    *,
    plaster_pk: str = "",
    bag_g: float | None = None,
) -> ProposedPour:
    """The mix for the chosen pieces, for all that wait where `chosen` is None. Seven queries.

    In the plaster of that key, else the usual one; and where `bag_g` is left in the bag, what that makes.
    """
    kinds = list(unit.plasters.in_use())
    kind = next((each for each in kinds if str(each.pk) == plaster_pk), None)
    kind = kind or next((each for each in kinds if each.usual), None)
    mixing = mixing_of(unit).of(kind) if kind else mixing_of(unit)
    waiting = _prints_to_pour(unit, mixing, local_day(now))
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
    """A casting plaster of which nobody wrote anything down."""
    return Plaster()


def _in_bag(bag_g: float, wanted: plaster.Mix, mixing: Mixing) -> InBag:
    made = plaster.mix_from_powder(
        bag_g, mixing.consistency, mixing.purity, mixing.density_g_per_ml
    )
    short_g = max(0.0, wanted.plaster_g - bag_g)
    return InBag(made, fills_all=short_g == 0, short_g=short_g)
