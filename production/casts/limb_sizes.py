"""Expected size of a child's hand or foot by age, for planning clay, slab and frame. Millimetres and months.

From `production/data/hand_foot_by_age.csv` (Snyder and others 1977, UM-HSRI-77-17, as published by NIST, and half-year
statistics of the same study's records; see the README beside it): a US sample of 1975-77, 27 to 44 infants per age
band, boys and girls together, flat hand assumed. Mean and standard deviation are interpolated between the middles of
the bands. The only computation that reads a file: its own table, once.

A unit's own measurements gradually calibrate the table: each child counts once, by the number of standard deviations
from the published mean, and the published figures count as ten children [our choice: another published table has feet
one standard deviation longer at one to two years, so ten of the unit's own should weigh as much].
"""

import csv
import math
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal, NamedTuple

Limb = Literal["hand", "foot"]

Measure = Literal["length", "breadth"]

DAYS_IN_A_MONTH = 365.25 / 12

# 90 % of children are within this many standard deviations of the mean (normal distribution).
_NINE_IN_TEN_SD = 1.645

PRIOR_CHILDREN = 10

TYPING_ERROR_SD = 4.0

IMPLAUSIBLE_SD = 3.0


@dataclass(frozen=True, slots=True)
class Size:
    """The expected size and the band that holds 90 % of children. Plan frames for `high_mm`."""

    mean_mm: float
    low_mm: float
    high_mm: float


@dataclass(frozen=True, slots=True)
class MeasuredLimb:
    """One measured limb: whose, corrected age, length."""

    child: Hashable
    age_months: float
    length_mm: float


@dataclass(frozen=True, slots=True)
class Calibration:
    """How a unit's children differ from the published table, and from how many children that is known."""

    children: int = 0
    shift_sd: float = 0.0
    """Mean difference in published standard deviations; positive is longer."""
    spread: float = 1.0
    """Standard deviation as a multiple of the published one."""


PUBLISHED = Calibration()

Verdict = Literal["as_expected", "small", "large", "hardly"]


@dataclass(frozen=True, slots=True)
class LengthCheck:
    """Whether a measured length is plausible, with a sentence for whoever measured."""

    verdict: Verdict
    expected: Size
    sentence: str


class _Band(NamedTuple):
    age_months: float
    mean_mm: float
    sd_mm: float


def expected_length(kind: Limb, age_months: float, own: Calibration = PUBLISHED) -> Size:
    """Expected length, wrist crease to fingertip or heel to toe. Ages are clipped to 1.5 to 80.8 months."""
    return _expected(kind, "length", age_months, own)


def expected_breadth(kind: Limb, age_months: float) -> Size:
    """Expected breadth across the knuckles or the ball of the foot. Ages are clipped to the table."""
    return _expected(kind, "breadth", age_months)


def age_in_months(days: int) -> float:
    """Convert days of (corrected) age to the mean months of the table."""
    return days / DAYS_IN_A_MONTH


def calibrate(kind: Limb, measured: Iterable[MeasuredLimb]) -> Calibration:
    """Calibrate the table to a unit's own lengths of hands or of feet; each child counts once.

    Shift and spread are shrunk towards the published figures, which count as ten children. Lengths beyond four
    standard deviations are taken for typing errors and ignored.
    """
    of_child: defaultdict[Hashable, list[float]] = defaultdict(list)
    for each in measured:
        off = _deviation_sd(kind, each.age_months, each.length_mm)
        if abs(off) <= TYPING_ERROR_SD:
            of_child[each.child].append(off)
    offs = [sum(found) / len(found) for found in of_child.values()]
    known = len(offs) + PRIOR_CHILDREN
    shift = sum(offs) / known
    squares = sum((off - shift) ** 2 for off in offs) + PRIOR_CHILDREN * (1 + shift**2)
    return Calibration(len(offs), shift, math.sqrt(squares / known))


def check_length(
    kind: Limb, age_months: float, length_mm: float, own: Calibration = PUBLISHED
) -> LengthCheck:
    """Judge whether a measured length is plausible, while the child can still be measured again."""
    expected = expected_length(kind, age_months, own)
    band = f"{expected.low_mm:.0f} to {expected.high_mm:.0f} mm at this age"
    off = (length_mm - expected.mean_mm) / ((expected.high_mm - expected.mean_mm) / _NINE_IN_TEN_SD)
    if abs(off) <= _NINE_IN_TEN_SD:
        return LengthCheck("as_expected", expected, f"As expected: nine in ten have {band}.")
    word: Literal["small", "large"] = "small" if off < 0 else "large"
    if abs(off) <= IMPLAUSIBLE_SD:
        return LengthCheck(word, expected, f"Rather {word}: nine in ten have {band}.")
    other: Limb = "foot" if kind == "hand" else "hand"
    fits_other = abs(_deviation_sd(other, age_months, length_mm)) <= _NINE_IN_TEN_SD
    hint = f"It would fit a {other}. " if fits_other else ""
    return LengthCheck(
        "hardly", expected, f"Hardly possible: {hint}Nine in ten have {band}. Measure again."
    )


def _deviation_sd(kind: Limb, age_months: float, length_mm: float) -> float:
    """Difference of a length from the published mean of its age, in standard deviations."""
    expected = _expected(kind, "length", age_months)
    return (length_mm - expected.mean_mm) / (
        (expected.high_mm - expected.mean_mm) / _NINE_IN_TEN_SD
    )


def _expected(
    kind: Limb, measure: Measure, age_months: float, own: Calibration | None = None
) -> Size:
    bands = _bands(kind, measure)
    age = min(max(age_months, bands[0].age_months), bands[-1].age_months)
    upper = min(bisect_right(bands, age, key=lambda band: band.age_months), len(bands) - 1)
    before, after = bands[upper - 1], bands[upper]
    along = (age - before.age_months) / (after.age_months - before.age_months)
    mean_mm = before.mean_mm + along * (after.mean_mm - before.mean_mm)
    sd_mm = before.sd_mm + along * (after.sd_mm - before.sd_mm)
    if own:
        mean_mm, sd_mm = mean_mm + own.shift_sd * sd_mm, own.spread * sd_mm
    spread_mm = _NINE_IN_TEN_SD * sd_mm
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
