"""Spoilage rates by group, with intervals that keep a few cases from looking like a pattern. Pure.

The rate of a group is shrunk towards that of all pieces by a beta prior worth `PRIOR_CASES` pieces; its interval is
the central 90 % of the beta distribution. So a group of three pieces that all spoiled gets an interval that reaches
far down, and a group differs only if its whole interval lies outside that of all others together (Wilson, 95 %).
"""

from collections import Counter
from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from math import exp, inf, lgamma, log, log1p, sqrt

PRIOR_CASES = 10.0

INTERVAL_SHARE = 0.90

# Two-sided 95 % quantile of the normal distribution, for Wilson's interval.
Z_95 = 1.959963984540054

MIN_CASES = 5

TOLERANCE = 1e-14

MAX_STEPS = 500


@dataclass(frozen=True, slots=True)
class Rate:
    """Spoilage of a group: of `cases` pieces `spoiled` were spoiled; the shrunk rate and its interval (0 to 1)."""

    group: Hashable
    cases: int
    spoiled: int
    likely: float
    low: float
    high: float
    common: float
    # 95 % interval of the rate of all other groups.
    others_low: float
    others_high: float

    @property
    def is_few(self) -> bool:
        """Whether there are too few pieces for any statement."""
        return self.cases < MIN_CASES

    @property
    def differs(self) -> bool:
        """Whether the interval of the group and that of all others do not overlap."""
        return not self.is_few and (self.low > self.others_high or self.high < self.others_low)


def spoilage_rates(
    cases: Iterable[tuple[Hashable, bool]], *, prior_cases: float = PRIOR_CASES
) -> list[Rate]:
    """Compute the rate of each group from (group, spoiled?) of every piece; the largest group first.

    `prior_cases` is the weight of the prior in pieces. Empty without pieces.
    """
    counted: Counter[Hashable] = Counter()
    spoiled: Counter[Hashable] = Counter()
    for group, bad in cases:
        counted[group] += 1
        spoiled[group] += bad
    total = counted.total()
    if not total:
        return []
    # Half a case added each way: a studio that has not spoiled any piece yet still may.
    common = (spoiled.total() + 0.5) / (total + 1)
    return [
        _rate(
            (group, number, spoiled[group]),
            wilson(spoiled.total() - spoiled[group], total - number),
            common,
            prior_cases,
        )
        for group, number in counted.most_common()
    ]


def wilson(spoiled: int, cases: int, z: float = Z_95) -> tuple[float, float]:
    """Wilson score interval of a share; (0, 1) without cases.

    Source: E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209; worked example in R. G. Newcombe, Statistics in
    Medicine 17 (1998) 857 [mem].
    """
    if cases == 0:
        return 0.0, 1.0
    share, square = spoiled / cases, z * z
    middle = share + square / (2 * cases)
    half = z * sqrt(share * (1 - share) / cases + square / (4 * cases * cases))
    bottom = 1 + square / cases
    return max(0.0, (middle - half) / bottom), min(1.0, (middle + half) / bottom)


def beta_quantile(share: float, a: float, b: float) -> float:
    """Quantile of the beta distribution (a, b) at `share`; accurate to 1e-10, by bisection."""
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        if beta_cdf(middle, a, b) < share:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def beta_cdf(x: float, a: float, b: float) -> float:
    """Cumulative beta distribution (a, b) at x: the regularised incomplete beta function.

    By its continued fraction, DLMF 8.17.22 [std].
    """
    if x <= 0:
        return 0.0
    if x >= 1:
        return 1.0
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log1p(-x))
    if x < (a + 1) / (a + b + 2):
        return front * _continued_fraction(x, a, b) / a
    return 1 - front * _continued_fraction(1 - x, b, a) / b


def age_group(weeks: int | None) -> str:
    """Name the age group of a child by its (corrected) weeks; None is unknown."""
    if weeks is None:
        return "age not known"
    for end, words in ((16, "under 16 weeks"), (26, "16 to 25 weeks"), (52, "26 to 51 weeks")):
        if weeks < end:
            return words
    return "a year and more"


def rate_sentence(rate: Rate) -> str:
    """Describe the rate of a group in a sentence without a full stop."""
    counted = f"{rate.spoiled} of {rate.cases}"
    if rate.is_few:
        return f"{counted}: too few to learn from yet"
    spread = f"probably {100 * rate.low:.0f} to {100 * rate.high:.0f} %"
    if not rate.differs:
        return f"{counted}, {spread}: as with the others"
    way = "more often" if rate.low > rate.others_high else "less often"
    return f"{counted}, {spread}: {way} than the others, worth a look at what differs"


def _rate(
    counted: tuple[Hashable, int, int], rest: tuple[float, float], common: float, prior_cases: float
) -> Rate:
    group, cases, spoiled = counted
    a = spoiled + prior_cases * common
    b = cases - spoiled + prior_cases * (1 - common)
    edge = (1 - INTERVAL_SHARE) / 2
    return Rate(
        group=group,
        cases=cases,
        spoiled=spoiled,
        likely=a / (a + b),
        low=beta_quantile(edge, a, b),
        high=beta_quantile(1 - edge, a, b),
        common=common,
        others_low=rest[0],
        others_high=rest[1],
    )


def _continued_fraction(x: float, a: float, b: float) -> float:
    """Continued fraction of the incomplete beta function, by Lentz's method."""
    tiny, c, d = 1e-300, 1.0, 1 - (a + b) * x / (a + 1)
    d = 1 / (d or tiny)
    found, step, m = d, inf, 0
    while abs(step - 1) > TOLERANCE and m < MAX_STEPS:
        m += 1
        for part in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            d = 1 / ((1 + part * d) or tiny)
            c = 1 + part / c or tiny
            step = c * d
            found *= step
    return found
