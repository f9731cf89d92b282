"""How a cast dries: whether it is dry (`gate`), the law it follows (`law`), the day it will be dry
(`forecast`), the air round it (`air`, and `clock` where it changes) and what a unit's own pieces teach (`learning`).

Pure: numbers and frozen dataclasses in and out.
"""

from production.drying.air import TOO_HOT_C, WARM_C, Room, evaporation_g_per_m2_h
from production.drying.clock import READING_HOLDS, USUAL, Clock, clock_of
from production.drying.forecast import ONE_IN_TEN_SD, Forecast, Prior, forecast, prior_days
from production.drying.gate import (
    CONSISTENCY_OFF_BY,
    DRYING_DAYS,
    EXCESS_SHARE,
    FREE_WATER_GONE,
    SCALE_G,
    STEADY_PERCENT_PER_DAY,
    Dryness,
    Fit,
    Weighed,
    fit,
    judge,
    rising,
)
from production.drying.learning import Circumstances, Dried, Learnt, learn
from production.drying.verdict import verdict
from production.drying.warnings import of_room, of_weighings, slab_area_m2

__all__ = [
    "CONSISTENCY_OFF_BY",
    "DRYING_DAYS",
    "EXCESS_SHARE",
    "FREE_WATER_GONE",
    "ONE_IN_TEN_SD",
    "READING_HOLDS",
    "SCALE_G",
    "STEADY_PERCENT_PER_DAY",
    "TOO_HOT_C",
    "USUAL",
    "WARM_C",
    "Circumstances",
    "Clock",
    "Dried",
    "Dryness",
    "Fit",
    "Forecast",
    "Learnt",
    "Prior",
    "Room",
    "Weighed",
    "clock_of",
    "evaporation_g_per_m2_h",
    "fit",
    "forecast",
    "judge",
    "learn",
    "of_room",
    "of_weighings",
    "prior_days",
    "rising",
    "slab_area_m2",
    "verdict",
]
