"""How large a child's hand or foot will be, so that clay, slab and frame can be planned.

From `production/data/hand_foot_by_age.csv` (Snyder and others 1977, UM-HSRI-77-17, as published by
NIST, and half-year statistics of the same study's records; see the README beside it): a US sample
of 1975-77, 27 to 44 infants a band, boys and girls together, flat hand assumed. Linear between the
bands' middles, in the mean and in the standard deviation. The only module of computations that
reads a file: its own table, once.
"""

import csv
from bisect import bisect_right
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal, NamedTuple

Limb = Literal["hand", "foot"]
Measure = Literal["length", "breadth"]

DAYS_IN_A_MONTH = 365.25 / 12

# Nine of ten children lie within this many standard deviations of the mean (normal distribution).
_NINE_IN_TEN_SD = 1.645


@dataclass(frozen=True, slots=True)
class Size:
    """The expected size and the band that holds nine children in ten. Size the frame to `high_mm`."""

    mean_mm: float
    low_mm: float
    high_mm: float


class _Band(NamedTuple):
    age_months: float
    mean_mm: float
    sd_mm: float


def expected_length(kind: Limb, age_months: float) -> Size:
    """Wrist crease to fingertip, or heel to toe. Ages outside 1.5 to 80.8 months take the nearest end."""
    return _expected(kind, "length", age_months)


def expected_breadth(kind: Limb, age_months: float) -> Size:
    """Across the knuckles or the ball of the foot. Ages outside the table take the nearest end."""
    return _expected(kind, "breadth", age_months)


def months_of(days: int) -> float:
    """Days of (corrected) age as the mean months of the table."""
    return days / DAYS_IN_A_MONTH


def _expected(kind: Limb, measure: Measure, age_months: float) -> Size:
    bands = _bands(kind, measure)
    age = min(max(age_months, bands[0].age_months), bands[-1].age_months)
    upper = min(bisect_right(bands, age, key=lambda band: band.age_months), len(bands) - 1)
    before, after = bands[upper - 1], bands[upper]
    along = (age - before.age_months) / (after.age_months - before.age_months)
    mean_mm = before.mean_mm + along * (after.mean_mm - before.mean_mm)
    spread_mm = _NINE_IN_TEN_SD * (before.sd_mm + along * (after.sd_mm - before.sd_mm))
    return Size(mean_mm, mean_mm - spread_mm, mean_mm + spread_mm)


@cache
def _bands(kind: Limb, measure: Measure) -> tuple[_Band, ...]:
    table = files("production").joinpath("data", "hand_foot_by_age.csv")
    rows = csv.DictReader(table.read_text(encoding="utf-8").splitlines())
    return tuple(
        _Band(float(row["age_mid_months"]), float(row["mean_mm"]), float(row["sd_mm"]))
        for row in rows
        if row["measure"] == f"{kind}_{measure}" and row["sex"] == "both"
    )
