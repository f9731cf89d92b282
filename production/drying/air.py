"""Air of the drying room: the fastest that it can take water from a wet surface.

Moist air by `psychrolib` (ASHRAE Fundamentals 2017, chapter 1). Evaporation from a free wet surface by the formula of
ASHRAE Applications for pools, (0.089 + 0.0782 v)(p_w - p_a)/Y, with the surface at the wet bulb [mem]. Plaster is
slower than that (Seck and others, J. Mater. Sci. 50 (2015) 2491): the figure is an upper bound, and forecasts use only
its ratio between rooms.
"""

from dataclasses import dataclass
from functools import cache

import psychrolib

SEA_LEVEL_PA = 101_325.0
LATENT_KJ_PER_KG = 2454.0  # of water at 20 °C
WARM_C = 45.0
# Set plaster begins to lose its bound water: dry at 49 °C at most (a maker's technical note).
TOO_HOT_C = 49.0
MIN_C, MAX_C = -5.0, 60.0
MIN_PERCENT, MAX_PERCENT = 5.0, 100.0
MAX_M_PER_S = 5.0

psychrolib.SetUnitSystem(psychrolib.SI)


@dataclass(frozen=True, slots=True)
class Room:
    """Air in which a cast dries: °C (-5 to 60), relative humidity in percent (5 to 100), air speed in m/s (0 to 5).

    Raises ValueError outside of these ranges.
    """

    temperature_c: float = 20.0
    humidity_percent: float = 50.0
    air_m_per_s: float = 0.1

    def __post_init__(self) -> None:
        if not MIN_C <= self.temperature_c <= MAX_C:
            raise ValueError("The temperature of a drying room lies between -5 and 60 °C.")
        if not MIN_PERCENT <= self.humidity_percent <= MAX_PERCENT:
            raise ValueError("The relative humidity lies between 5 and 100 %.")
        if not 0 <= self.air_m_per_s <= MAX_M_PER_S:
            raise ValueError("The air of a drying room moves at 0 to 5 m/s.")


ORDINARY_ROOM = Room()


def saturation_pa(temperature_c: float) -> float:
    """Vapour pressure over water in pascals (over ice below 0 °C): 2338.8 at 20 °C."""
    return float(psychrolib.GetSatVapPres(temperature_c))


def vapour_pa(room: Room) -> float:
    """Partial pressure of the water vapour in this air, in pascals."""
    return saturation_pa(room.temperature_c) * room.humidity_percent / 100


@cache
def wet_bulb_c(room: Room) -> float:
    """Temperature in °C to which a wet surface cools: 13.78 °C at 20 °C and 50 %."""
    return float(
        psychrolib.GetTWetBulbFromRelHum(
            room.temperature_c, room.humidity_percent / 100, SEA_LEVEL_PA
        )
    )


def evaporation_g_per_m2_h(room: Room) -> float:
    """Evaporation from a free wet surface in g/m²h: 57.8 at 20 °C, 50 % and 0.1 m/s; 0 in saturated air.

    Within half of the last digit of the check values from memory of ASHRAE Applications.
    """
    pull_pa = max(0.0, saturation_pa(wet_bulb_c(room)) - vapour_pa(room))
    kg_per_m2_s = (0.089 + 0.0782 * room.air_m_per_s) * pull_pa / 1000 / LATENT_KJ_PER_KG
    return kg_per_m2_s * 3600 * 1000
