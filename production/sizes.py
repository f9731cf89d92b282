"""How large a child's hand or foot will be, so that clay, slab and frame can be planned.

From `production/data/hand_foot_by_age.csv` (Snyder and others 1977, UM-HSRI-77-17, as published by
NIST, and half-year statistics of the same study's records; see the README beside it): a US sample
of 1975-77, 27 to 44 infants a band, boys and girls together, flat hand assumed. Linear between the
bands' middles, in the mean and in the standard deviation. The only module of computations that
reads a file: its own table, once.

A unit's own measurements take over by and by: each child counts once, by how many standard
deviations its limbs lie from the published mean, and the published figures count as ten children
[our choice: another published table has feet one standard deviation longer at one to two years, so
ten of the unit's own should weigh as much].
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

# Nine of ten children lie within this many standard deviations of the mean (normal distribution).
_NINE_IN_TEN_SD = 1.645
PRIOR_CHILDREN = 10
SLIP_SD = 4.0
HARDLY_SD = 3.0


@dataclass(frozen=True, slots=True)
class Size:
    """The expected size and the band that holds nine children in ten. Size the frame to `high_mm`."""

    mean_mm: float
    low_mm: float
    high_mm: float


@dataclass(frozen=True, slots=True)
class Measured:
    """One limb as it was measured: whose, how old (corrected), how long."""

    child: Hashable
    age_months: float
    length_mm: float


@dataclass(frozen=True, slots=True)
class Own:
    """How a unit's children differ from the published ones, and of how many children that is known."""

    children: int = 0
    shift_sd: float = 0.0
    """By how many of the published standard deviations they are longer."""
    spread: float = 1.0
    """How widely they lie, as a multiple of the published standard deviation."""


PUBLISHED = Own()

Verdict = Literal["as_expected", "small", "large", "hardly"]


@dataclass(frozen=True, slots=True)
class Judged:
    """Whether a measured length can be: a verdict, and what to tell whoever measured."""

    verdict: Verdict
    expected: Size
    sentence: str


class _Band(NamedTuple):
    age_months: float
    mean_mm: float
    sd_mm: float


def expected_length(kind: Limb, age_months: float, own: Own = PUBLISHED) -> Size:
    """Wrist crease to fingertip, or heel to toe. Ages outside 1.5 to 80.8 months take the nearest end."""
    return _expected(kind, "length", age_months, own)


def expected_breadth(kind: Limb, age_months: float) -> Size:
    """Across the knuckles or the ball of the foot. Ages outside the table take the nearest end."""
    return _expected(kind, "breadth", age_months)


def months_of(days: int) -> float:
    """Days of (corrected) age as the mean months of the table."""
    return days / DAYS_IN_A_MONTH


def learn(kind: Limb, measured: Iterable[Measured]) -> Own:
    """What a unit's own lengths of hands or of feet tell, each child counted once.

    Shrunk towards the published mean as if that were ten children; the spread likewise. What lies
    beyond four standard deviations is a slip and tells nothing.
    """
    of_child: defaultdict[Hashable, list[float]] = defaultdict(list)
    for each in measured:
        off = _off(kind, each.age_months, each.length_mm)
        if abs(off) <= SLIP_SD:
            of_child[each.child].append(off)
    offs = [sum(found) / len(found) for found in of_child.values()]
    known = len(offs) + PRIOR_CHILDREN
    shift = sum(offs) / known
    squares = sum((off - shift) ** 2 for off in offs) + PRIOR_CHILDREN * (1 + shift**2)
    return Own(len(offs), shift, math.sqrt(squares / known))


def judge(kind: Limb, age_months: float, length_mm: float, own: Own = PUBLISHED) -> Judged:
    """Is this plausible? Told while the child is still there and can be measured again."""
    expected = expected_length(kind, age_months, own)
    band = f"{expected.low_mm:.0f} to {expected.high_mm:.0f} mm at this age"
    off = (length_mm - expected.mean_mm) / ((expected.high_mm - expected.mean_mm) / _NINE_IN_TEN_SD)
    if abs(off) <= _NINE_IN_TEN_SD:
        return Judged("as_expected", expected, f"As expected: nine in ten have {band}.")
    word: Literal["small", "large"] = "small" if off < 0 else "large"
    if abs(off) <= HARDLY_SD:
        return Judged(word, expected, f"Rather {word}: nine in ten have {band}.")
    other: Limb = "foot" if kind == "hand" else "hand"
    fits_other = abs(_off(other, age_months, length_mm)) <= _NINE_IN_TEN_SD
    hint = f"It would fit a {other}. " if fits_other else ""
    return Judged(
        "hardly", expected, f"Hardly possible: {hint}Nine in ten have {band}. Measure again."
    )


def _off(kind: Limb, age_months: float, length_mm: float) -> float:
    """By how many published standard deviations a length lies above the mean of its age."""
    expected = _expected(kind, "length", age_months)
    return (length_mm - expected.mean_mm) / (
        (expected.high_mm - expected.mean_mm) / _NINE_IN_TEN_SD
    )


def _expected(kind: Limb, measure: Measure, age_months: float, own: Own | None = None) -> Size:
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
