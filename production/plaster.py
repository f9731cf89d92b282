"""How much powder and water a set of impressions takes, and what the cast weighs wet and dry.

CaSO4·½H2O + 1½ H2O → CaSO4·2H2O, molar masses 145.149, 18.015 and 172.171 (chemical suppliers'
data): 100 g of pure plaster bind 18.62 g of water (18.617, kept unrounded). The absolute density of plaster is 2.5-2.7 in
the literature (Merck Index, 10th ed.); 2.70 meets a gypsum maker's published table of wet and dry
densities within 1 % for consistencies of 38 to 70, and within 2 % down to 20.

*Consistency* is the parts of water by weight to 100 parts of plaster; casting plaster takes 63-70.
Volumes are of the slurry, in millilitres; the setting expansion of 0.2 % is left out.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, exp, log, pi
from typing import Literal

WATER_BOUND_G_PER_100_G = 100 * (172.171 / 145.149 - 1)
PLASTER_DENSITY_G_PER_ML = 2.70

# What can be poured at all: below it is stiffer than any published plaster, above it hardly sets.
LEAST_CONSISTENCY = 20.0
MOST_CONSISTENCY = 120.0
MOST_VOLUME_ML = 50_000.0
LEAST_PURITY = 0.5
LEAST_DENSITY_G_PER_ML = 2.0
MOST_DENSITY_G_PER_ML = 3.0


# A sound cast of consistency 70 when dry, and its clay (published figures that differ: shown as bands).
STRENGTH_MPA = (12.5, 16.5)
STRENGTH_AT, STRENGTH_WITHIN = 70, 5
EXPANSION_PERCENT = (0.20, 0.22)
CLAY_SHRINKS_PERCENT = (4.0, 6.0)

STIR_MINUTES = 3.0
POUR_MINUTES = 1.5
SLAB_KEEPS = 0.4

# Beliefs that a unit's own pours outweigh: so many pours as foreseen, each to so much (in logarithms).
SAME_AS_FORESEEN_POURS = 3.0
FILL_SD = 0.15
FOUR_IN_FIVE_SD = 1.2815516

Outline = Literal["rectangle", "oval"]


@dataclass(frozen=True, slots=True)
class Filled:
    """One pour: what its moulds were thought to take, and what they took (mixed less left over), ml."""

    foreseen_ml: float
    filled_ml: float

    def __post_init__(self) -> None:
        if not (self.foreseen_ml > 0 and self.filled_ml > 0):
            raise ValueError("What a pour filled and was to fill must be above zero.")


@dataclass(frozen=True, slots=True)
class Fill:
    """A unit's own factor on foreseen volumes, with the band of four chances in five, from so many pours."""

    factor: float
    low: float
    high: float
    pours: int

    @property
    def percent_words(self) -> str:
        """ "about 6 % less than foreseen", "as much as foreseen"."""
        percent = round(100 * abs(self.factor - 1))
        if percent == 0:
            return "as much as foreseen"
        return f"about {percent} % {'more' if self.factor > 1 else 'less'} than foreseen"

    @property
    def unsure(self) -> bool:
        """Whether its band still reaches from less to more than foreseen."""
        return self.low < 1 < self.high


AS_FORESEEN = Fill(1.0, 1.0, 1.0, 0)


@dataclass(frozen=True, slots=True)
class Batch:
    """The moulds (by their place in the list given) of one mix, its volume, and how many buckets that is."""

    moulds: tuple[int, ...]
    volume_ml: float
    buckets: int


@dataclass(frozen=True, slots=True)
class Mix:
    """One mix of slurry and what becomes of it. `fresh_g` = `plaster_g` + `water_g` = `dry_g` + `free_water_g`."""

    volume_ml: float
    plaster_g: float
    water_g: float
    fresh_g: float
    dry_g: float
    free_water_g: float


def mix(
    volume_ml: float,
    consistency: float,
    purity: float = 1.0,
    density_g_per_ml: float = PLASTER_DENSITY_G_PER_ML,
) -> Mix:
    """The mix that fills `volume_ml`; `purity` is the share of the powder that is plaster.

    Within 1 % of a maker's table for consistencies of 38 to 70, within 2 % down to 20.
    Raises ValueError with a sentence for amounts that cannot be meant.
    """
    if not 0 < volume_ml <= MOST_VOLUME_ML:
        raise ValueError("The volume of a mix must be above 0 and at most 50 litres.")
    if not LEAST_DENSITY_G_PER_ML <= density_g_per_ml <= MOST_DENSITY_G_PER_ML:
        raise ValueError("The density of plaster powder lies between 2 and 3 g per ml.")
    _check(consistency, purity)
    plaster_g = volume_ml * 100 / (100 / density_g_per_ml + consistency)
    water_g = plaster_g * consistency / 100
    fresh_g = plaster_g + water_g
    dry_g = fresh_g * dry_share(consistency, purity)
    return Mix(volume_ml, plaster_g, water_g, fresh_g, dry_g, fresh_g - dry_g)


def total(mixes: Iterable[Mix]) -> Mix:
    """Several mixes as one; all zero where there is none."""
    every = list(mixes)
    return Mix(
        volume_ml=sum(one.volume_ml for one in every),
        plaster_g=sum(one.plaster_g for one in every),
        water_g=sum(one.water_g for one in every),
        fresh_g=sum(one.fresh_g for one in every),
        dry_g=sum(one.dry_g for one in every),
        free_water_g=sum(one.free_water_g for one in every),
    )


def dry_share(consistency: float, purity: float = 1.0) -> float:
    """Dry mass over fresh mass of a cast: 0.698 at a consistency of 70."""
    _check(consistency, purity)
    return (100 + WATER_BOUND_G_PER_100_G * purity) / (100 + consistency)


def mix_from_powder(
    plaster_g: float,
    consistency: float,
    purity: float = 1.0,
    density_g_per_ml: float = PLASTER_DENSITY_G_PER_ML,
) -> Mix:
    """What so much powder makes, the rest of a bag for one: its water, and the millilitres it fills."""
    if not plaster_g > 0:
        raise ValueError("The plaster must weigh above zero.")
    volume_ml = slurry_ml(plaster_g, plaster_g * consistency / 100, density_g_per_ml)
    return mix(volume_ml, consistency, purity, density_g_per_ml)


def slurry_ml(
    plaster_g: float, water_g: float, density_g_per_ml: float = PLASTER_DENSITY_G_PER_ML
) -> float:
    """The millilitres of slurry from powder and water: their own volumes added."""
    return plaster_g / density_g_per_ml + water_g


def slab_volume_ml(length_mm: float, width_mm: float, depth_mm: float) -> float:
    """The millilitres of a rectangular slab."""
    if not (length_mm > 0 and width_mm > 0 and depth_mm > 0):
        raise ValueError("Length, width and depth must all be above zero.")
    return length_mm * width_mm * depth_mm / 1000


def mould_volume_ml(outline: Outline, length_mm: float, width_mm: float, depth_mm: float) -> float:
    """The millilitres behind a measured outline: with corners, or the ellipse in the same box."""
    whole_ml = slab_volume_ml(length_mm, width_mm, depth_mm)
    return whole_ml * pi / 4 if outline == "oval" else whole_ml


def slab_for(
    length_mm: float, breadth_mm: float, depth_mm: float = 20, margin_mm: float = 20
) -> float:
    """The millilitres of the slab that carries one limb of this size, with a margin on all four sides.

    The limb's own relief is left out: it is taken from the slab or stands above it by a few ml.
    """
    if not margin_mm >= 0:
        raise ValueError("The margin round a limb cannot be below zero.")
    if not (length_mm > 0 and breadth_mm > 0):
        raise ValueError("The length and breadth of a limb must be above zero.")
    return slab_volume_ml(length_mm + 2 * margin_mm, breadth_mm + 2 * margin_mm, depth_mm)


def learn_fill(pours: Sequence[Filled]) -> Fill:
    """How much more or less a unit's moulds take than foreseen, from what it mixed and had left over.

    The logarithm of filled over foreseen is drawn towards none as if `SAME_AS_FORESEEN_POURS` pours had
    met it: one pour moves it a little. The band holds the unit's own factor with four chances in five.
    """
    ratios = [log(pour.filled_ml / pour.foreseen_ml) for pour in pours]
    weight = len(ratios) + SAME_AS_FORESEEN_POURS
    mean = sum(ratios) / weight
    scatter = sum((ratio - mean) ** 2 for ratio in ratios) + SAME_AS_FORESEEN_POURS * FILL_SD**2
    off_by = FOUR_IN_FIVE_SD * (scatter / weight / weight) ** 0.5
    return Fill(exp(mean), exp(mean - off_by), exp(mean + off_by), len(ratios))


def batches(volumes_ml: Sequence[float], bucket_ml: float, working_minutes: float) -> list[Batch]:
    """Which moulds are filled from one bucket: as few buckets as first-fit of the largest first finds.

    A bucket takes `bucket_ml`, and only as many moulds as can be filled while it can be poured: about a
    minute and a half each after three of soaking and stirring (common practice, no source). A mould that
    takes more than a bucket has buckets of its own, mixed one right after the other.
    """
    if not (bucket_ml > 0 and working_minutes > 0):
        raise ValueError("A bucket and its working time must be above zero.")
    most = max(1, int((working_minutes - STIR_MINUTES) // POUR_MINUTES))
    filled: list[list[int]] = []
    for index in sorted(range(len(volumes_ml)), key=lambda i: -volumes_ml[i]):
        fits = (
            one
            for one in filled
            if len(one) < most and sum(volumes_ml[i] for i in [*one, index]) <= bucket_ml
        )
        found = next(fits, None)
        if found is None:
            filled.append([index])
        else:
            found.append(index)
    return [
        Batch(
            tuple(sorted(one)),
            (total_ml := sum(volumes_ml[i] for i in one)),
            ceil(total_ml / bucket_ml),
        )
        for one in filled
    ]


def setting_heat_c(
    consistency: float, purity: float = 1.0, start_c: float = 20.0
) -> tuple[float, float]:
    """The band in which the slurry gets warm as it sets, in °C: a thin slab in cool clay to the middle of a bucket.

    The heat of hydration, 17.2 to 19.3 kJ per mole of hemihydrate [mem], warms gypsum (1.09 J/gK) and the
    water left (4.18 J/gK): some 36 K where none gets away, so bulk plaster reaches about 60 °C [src]. A thin
    slab is taken to keep two fifths of it (no source).
    """
    _check(consistency, purity)
    moles = purity / 1.45149  # of 100 g
    bound_g = WATER_BOUND_G_PER_100_G * purity
    takes_j_per_k = 1.09 * (100 + bound_g) + 4.18 * max(consistency - bound_g, 0.0)
    return (
        start_c + SLAB_KEEPS * moles * 17_200 / takes_j_per_k,
        start_c + moles * 19_300 / takes_j_per_k,
    )


def shrunk_mm(length_mm: float, percent: float) -> float:
    """A print's length after its clay dried: 60 mm at 5 % is 57 mm."""
    return length_mm * (1 - percent / 100)


def _check(consistency: float, purity: float) -> None:
    if not LEAST_CONSISTENCY <= consistency <= MOST_CONSISTENCY:
        raise ValueError(
            "The consistency must lie between 20 and 120 parts of water to 100 of plaster."
        )
    if not LEAST_PURITY <= purity <= 1:
        raise ValueError("The purity of the powder must lie between 0.5 and 1.")
