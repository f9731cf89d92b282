"""Plaster mixes: powder and water for a volume of slurry, the wet and dry weight of casts, buckets, setting heat.

CaSO4·½H2O + 1½ H2O → CaSO4·2H2O, molar masses 145.149, 18.015 and 172.171 (chemical suppliers' data): 100 g of pure
plaster bind 18.62 g of water (18.617, kept unrounded). The density of plaster powder is 2.5-2.7 g/ml in the literature
(Merck Index, 10th ed.); 2.70 agrees with a gypsum maker's published table of wet and dry densities to within 1 % for
consistencies of 38 to 70, and within 2 % down to 20.

*Consistency* is the parts of water by weight to 100 parts of plaster; casting plaster takes 63-70.
Volumes are of the slurry, in millilitres; the setting expansion of 0.2 % is left out.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, exp, log, pi
from typing import Literal

WATER_BOUND_G_PER_100_G = 100 * (172.171 / 145.149 - 1)
PLASTER_DENSITY_G_PER_ML = 2.70

# Below this a mix is stiffer than any published plaster, above it hardly sets.
MIN_CONSISTENCY = 20.0
MAX_CONSISTENCY = 120.0
MAX_VOLUME_ML = 50_000.0
MIN_PURITY = 0.5
MIN_DENSITY_G_PER_ML = 2.0
MAX_DENSITY_G_PER_ML = 3.0

# The published strength of dry plaster (12.5 to 16.5 MPa; sources differ) is that of consistency 70.
STRENGTH_CONSISTENCY, STRENGTH_TOLERANCE = 70, 5

STIR_MINUTES = 3.0
POUR_MINUTES = 1.5
SLAB_HEAT_SHARE = 0.4

# Prior, outweighed by the unit's own pours: worth so many pours without a deviation, with this SD of the logarithm.
PRIOR_POURS = 3.0
FILL_SD = 0.15
FOUR_IN_FIVE_SD = 1.2815516

Outline = Literal["rectangle", "oval"]


@dataclass(frozen=True, slots=True)
class PourVolume:
    """One pour in ml: the volume expected for its moulds, and the volume poured (mixed less left over).

    Raises ValueError unless both are above zero.
    """

    expected_ml: float
    filled_ml: float

    def __post_init__(self) -> None:
        if not (self.expected_ml > 0 and self.filled_ml > 0):
            raise ValueError("What a pour filled and was to fill must be above zero.")


@dataclass(frozen=True, slots=True)
class FillFactor:
    """A unit's correction factor on expected volumes with its 80 % interval, learnt from `pours` pours."""

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
        """Whether the interval includes 1: more or less than expected is not decided yet."""
        return self.low < 1 < self.high


NO_CORRECTION = FillFactor(1.0, 1.0, 1.0, 0)


@dataclass(frozen=True, slots=True)
class Batch:
    """One mix: the indices of its moulds, its volume in ml, and the number of buckets."""

    moulds: tuple[int, ...]
    volume_ml: float
    buckets: int


@dataclass(frozen=True, slots=True)
class Mix:
    """One mix of slurry and its cast: `fresh_g` = `plaster_g` + `water_g` = `dry_g` + `free_water_g`."""

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
    """Compute the mix that fills `volume_ml`; `purity` is the share of the powder that is plaster.

    Within 1 % of a maker's table for consistencies of 38 to 70, within 2 % down to 20. Raises ValueError with a
    sentence for a volume, consistency, purity or density out of range.
    """
    if not 0 < volume_ml <= MAX_VOLUME_ML:
        raise ValueError("The volume of a mix must be above 0 and at most 50 litres.")
    if not MIN_DENSITY_G_PER_ML <= density_g_per_ml <= MAX_DENSITY_G_PER_ML:
        raise ValueError("The density of plaster powder lies between 2 and 3 g per ml.")
    _check(consistency, purity)
    plaster_g = volume_ml * 100 / (100 / density_g_per_ml + consistency)
    water_g = plaster_g * consistency / 100
    fresh_g = plaster_g + water_g
    dry_g = fresh_g * dry_share(consistency, purity)
    return Mix(volume_ml, plaster_g, water_g, fresh_g, dry_g, fresh_g - dry_g)


def total_mix(mixes: Iterable[Mix]) -> Mix:
    """Add several mixes up; all zero if there are none."""
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
    """Dry mass divided by fresh mass of a cast: 0.698 at a consistency of 70. Raises ValueError out of range."""
    _check(consistency, purity)
    return (100 + WATER_BOUND_G_PER_100_G * purity) / (100 + consistency)


def has_published_strength(consistency: float) -> bool:
    """Whether the published strength of dry plaster is that of about this consistency."""
    return abs(consistency - STRENGTH_CONSISTENCY) <= STRENGTH_TOLERANCE


def mix_from_powder(
    plaster_g: float,
    consistency: float,
    purity: float = 1.0,
    density_g_per_ml: float = PLASTER_DENSITY_G_PER_ML,
) -> Mix:
    """Compute the mix that uses up `plaster_g` of powder (the rest of a bag): its water and its volume."""
    if not plaster_g > 0:
        raise ValueError("The plaster must weigh above zero.")
    volume_ml = slurry_ml(plaster_g, plaster_g * consistency / 100, density_g_per_ml)
    return mix(volume_ml, consistency, purity, density_g_per_ml)


def slurry_ml(
    plaster_g: float, water_g: float, density_g_per_ml: float = PLASTER_DENSITY_G_PER_ML
) -> float:
    """Volume in ml of slurry from powder and water: the sum of their own volumes."""
    return plaster_g / density_g_per_ml + water_g


def filled_ml(
    plaster_g: float, water_g: float, left_g: float, density_g_per_ml: float | None
) -> float:
    """Volume in ml that went into the moulds: the mix less the slurry left over; usual density if None."""
    mixed_ml = slurry_ml(plaster_g, water_g, density_g_per_ml or PLASTER_DENSITY_G_PER_ML)
    return mixed_ml * (1 - left_g / (plaster_g + water_g))


def slab_volume_ml(length_mm: float, width_mm: float, depth_mm: float) -> float:
    """Volume in ml of a rectangular slab. Raises ValueError unless all sides are above zero."""
    if not (length_mm > 0 and width_mm > 0 and depth_mm > 0):
        raise ValueError("Length, width and depth must all be above zero.")
    return length_mm * width_mm * depth_mm / 1000


def mould_volume_ml(outline: Outline, length_mm: float, width_mm: float, depth_mm: float) -> float:
    """Volume in ml of a mould: a rectangle, or the ellipse in the same box."""
    whole_ml = slab_volume_ml(length_mm, width_mm, depth_mm)
    return whole_ml * pi / 4 if outline == "oval" else whole_ml


def limb_slab_ml(
    length_mm: float, breadth_mm: float, depth_mm: float = 20, margin_mm: float = 20
) -> float:
    """Volume in ml of the slab for one limb of this size, with a margin on all four sides.

    The relief of the limb is left out: it adds or removes a few ml. Raises ValueError for impossible sizes.
    """
    if not margin_mm >= 0:
        raise ValueError("The margin round a limb cannot be below zero.")
    if not (length_mm > 0 and breadth_mm > 0):
        raise ValueError("The length and breadth of a limb must be above zero.")
    return slab_volume_ml(length_mm + 2 * margin_mm, breadth_mm + 2 * margin_mm, depth_mm)


def learn_fill(pours: Sequence[PourVolume]) -> FillFactor:
    """Learn by which factor a unit's moulds take more or less than expected, from its pours.

    The mean logarithm of poured over expected is shrunk towards zero as by `PRIOR_POURS` pours without a deviation:
    one pour moves it a little. The interval holds the unit's factor with 80 % probability.
    """
    ratios = [log(pour.filled_ml / pour.expected_ml) for pour in pours]
    weight = len(ratios) + PRIOR_POURS
    mean = sum(ratios) / weight
    scatter = sum((ratio - mean) ** 2 for ratio in ratios) + PRIOR_POURS * FILL_SD**2
    off_by = FOUR_IN_FIVE_SD * (scatter / weight / weight) ** 0.5
    return FillFactor(exp(mean), exp(mean - off_by), exp(mean + off_by), len(ratios))


def bucket_batches(
    volumes_ml: Sequence[float], bucket_ml: float, working_minutes: float
) -> list[Batch]:
    """Divide moulds of these volumes among buckets by first-fit decreasing.

    A bucket holds `bucket_ml`, and fills only as many moulds as its working time allows: about a minute and a half each
    after three of soaking and stirring (common practice, no source). A mould larger than a bucket gets buckets of its
    own, mixed one right after the other. Raises ValueError unless bucket and time are above zero.
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
    """Peak temperature of setting slurry in °C, from a thin slab in cool clay to the middle of a bucket.

    The heat of hydration, 17.2 to 19.3 kJ per mole of hemihydrate [mem], warms gypsum (1.09 J/gK) and the water left
    (4.18 J/gK): some 36 K without losses, so bulk plaster reaches about 60 °C [src]. A thin slab is assumed to keep two
    fifths of it (no source).
    """
    _check(consistency, purity)
    moles = purity / 1.45149  # of 100 g
    bound_g = WATER_BOUND_G_PER_100_G * purity
    takes_j_per_k = 1.09 * (100 + bound_g) + 4.18 * max(consistency - bound_g, 0.0)
    return (
        start_c + SLAB_HEAT_SHARE * moles * 17_200 / takes_j_per_k,
        start_c + moles * 19_300 / takes_j_per_k,
    )


def _check(consistency: float, purity: float) -> None:
    if not MIN_CONSISTENCY <= consistency <= MAX_CONSISTENCY:
        raise ValueError(
            "The consistency must lie between 20 and 120 parts of water to 100 of plaster."
        )
    if not MIN_PURITY <= purity <= 1:
        raise ValueError("The purity of the powder must lie between 0.5 and 1.")
