"""How often pieces spoil, by group, told so that three cases shout nothing. Pure.

A group's share is drawn towards the share of all pieces together, as if every group came with
`CASES_BEFORE` pieces of its own that spoiled as the others do (a beta prior); its interval is that of the
beta distribution, 90 % of it. So a group of three that all went wrong is told "three of three", with an
interval that reaches far down, and none is picked out unless its whole interval lies apart from that of all the
others together (Wilson's, 95 %).
"""

from collections import Counter
from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from math import exp, inf, lgamma, log, log1p, sqrt

CASES_BEFORE = 10.0
INTERVAL = 0.90
# Half the two-sided normal quantile of 95 %, for Wilson's interval.
Z_95 = 1.959963984540054
FEW = 5
CLOSE_ENOUGH = 1e-14
MOST_STEPS = 500


@dataclass(frozen=True, slots=True)
class Rate:
    """Of `cases` pieces `spoiled` were given up; the share drawn to the common one, and its interval (0 to 1)."""

    group: Hashable
    cases: int
    spoiled: int
    likely: float
    low: float
    high: float
    common: float
    # What the other groups' pieces say, nineteen times in twenty.
    rest_low: float
    rest_high: float

    @property
    def is_few(self) -> bool:
        """Too few pieces to say anything of."""
        return self.cases < FEW

    @property
    def stands_out(self) -> bool:
        """Whether its interval and that of all others lie apart: the common share is uncertain as well."""
        return not self.is_few and (self.low > self.rest_high or self.high < self.rest_low)


def rates(cases: Iterable[tuple[Hashable, bool]], *, before: float = CASES_BEFORE) -> list[Rate]:
    """The rate of each group from (group, was it spoiled) of every piece; the commonest group first.

    Empty without a case.
    """
    counted: Counter[Hashable] = Counter()
    spoiled: Counter[Hashable] = Counter()
    for group, bad in cases:
        counted[group] += 1
        spoiled[group] += bad
    total = counted.total()
    if not total:
        return []
    # Half a case each way: a studio that never spoiled one may still.
    common = (spoiled.total() + 0.5) / (total + 1)
    return [
        _rate(
            (group, number, spoiled[group]),
            wilson(spoiled.total() - spoiled[group], total - number),
            common,
            before,
        )
        for group, number in counted.most_common()
    ]


def wilson(spoiled: int, cases: int, z: float = Z_95) -> tuple[float, float]:
    """Wilson's score interval of a share, (0, 1) without a case.

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
    """The point below which `share` of the beta distribution (a, b) lies; right to 1e-10, by halving."""
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        if beta_below(middle, a, b) < share:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def beta_below(x: float, a: float, b: float) -> float:
    """How much of the beta distribution (a, b) lies below x: the regularised incomplete beta function.

    By its continued fraction, DLMF 8.17.22 [std].
    """
    if x <= 0:
        return 0.0
    if x >= 1:
        return 1.0
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log1p(-x))
    if x < (a + 1) / (a + b + 2):
        return front * _fraction(x, a, b) / a
    return 1 - front * _fraction(1 - x, b, a) / b


def groups_of_age(weeks: int | None) -> str:
    """The band of age in which a piece is counted."""
    if weeks is None:
        return "age not known"
    for end, words in ((16, "under 16 weeks"), (26, "16 to 25 weeks"), (52, "26 to 51 weeks")):
        if weeks < end:
            return words
    return "a year and more"


def said(rate: Rate) -> str:
    """One group in words, as something to learn from."""
    counted = f"{rate.spoiled} of {rate.cases}"
    if rate.is_few:
        return f"{counted}: too few to learn from yet"
    spread = f"probably {100 * rate.low:.0f} to {100 * rate.high:.0f} %"
    if not rate.stands_out:
        return f"{counted}, {spread}: as with the others"
    way = "more often" if rate.low > rate.rest_high else "less often"
    return f"{counted}, {spread}: {way} than the others, worth a look at what differs"


def _rate(
    counted: tuple[Hashable, int, int], rest: tuple[float, float], common: float, before: float
) -> Rate:
    group, cases, spoiled = counted
    a = spoiled + before * common
    b = cases - spoiled + before * (1 - common)
    edge = (1 - INTERVAL) / 2
    return Rate(
        group=group,
        cases=cases,
        spoiled=spoiled,
        likely=a / (a + b),
        low=beta_quantile(edge, a, b),
        high=beta_quantile(1 - edge, a, b),
        common=common,
        rest_low=rest[0],
        rest_high=rest[1],
    )


def _fraction(x: float, a: float, b: float) -> float:
    """The continued fraction of the incomplete beta function, by Lentz's method."""
    tiny, c, d = 1e-300, 1.0, 1 - (a + b) * x / (a + 1)
    d = 1 / (d or tiny)
    found, step, m = d, inf, 0
    while abs(step - 1) > CLOSE_ENOUGH and m < MOST_STEPS:
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
