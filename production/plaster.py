"""How much powder and water a set of impressions takes, and what the cast weighs wet and dry.

CaSO4·½H2O + 1½ H2O → CaSO4·2H2O, molar masses 145.149, 18.015 and 172.171 (chemical suppliers'
data): 100 g of pure plaster bind 18.62 g of water (18.617, kept unrounded). The absolute density of plaster is 2.5-2.7 in
the literature (Merck Index, 10th ed.); 2.70 meets a gypsum maker's published table of wet and dry
densities within 1 % for consistencies of 38 to 70, and within 2 % down to 20.

*Consistency* is the parts of water by weight to 100 parts of plaster; casting plaster takes 63-70.
Volumes are of the slurry, in millilitres; the setting expansion of 0.2 % is left out.
"""

from collections.abc import Iterable
from dataclasses import dataclass

WATER_BOUND_G_PER_100_G = 100 * (172.171 / 145.149 - 1)
PLASTER_DENSITY_G_PER_ML = 2.70

# What can be poured at all: below it is stiffer than any published plaster, above it hardly sets.
LEAST_CONSISTENCY = 20.0
MOST_CONSISTENCY = 120.0
MOST_VOLUME_ML = 50_000.0
LEAST_PURITY = 0.5
LEAST_DENSITY_G_PER_ML = 2.0
MOST_DENSITY_G_PER_ML = 3.0


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


def slab_volume_ml(length_mm: float, width_mm: float, depth_mm: float) -> float:
    """The millilitres of a rectangular slab."""
    if not (length_mm > 0 and width_mm > 0 and depth_mm > 0):
        raise ValueError("Length, width and depth must all be above zero.")
    return length_mm * width_mm * depth_mm / 1000


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


def _check(consistency: float, purity: float) -> None:
    if not LEAST_CONSISTENCY <= consistency <= MOST_CONSISTENCY:
        raise ValueError(
            "The consistency must lie between 20 and 120 parts of water to 100 of plaster."
        )
    if not LEAST_PURITY <= purity <= 1:
        raise ValueError("The purity of the powder must lie between 0.5 and 1.")
