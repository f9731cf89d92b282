"""Drying curves: the family of shapes by which a cast may lose its free water.

Each curve gives the share of free water left against progress, `rate · days`, where `rate` (per day) is that of its slow
end; all end in an exponential. At one end of the family are slabs limited by diffusion inside: the series of the plane
slab with a surface resistance (Crank, The Mathematics of Diffusion, ch. 4.3.6 [mem]). At the other, curves with a
steady rate down to a critical share and an exponential fall from there [mem, textbook], with a sharp or soft turn. The
plain exponential lies between. A cast's curve is found from its weighings, never assumed: plaster dries slower than an
ideal porous body (Seck and others, J. Mater. Sci. 50 (2015) 2491).
"""

from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# Resistance inside over resistance at the surface (Biot number); critical shares of free water.
BIOTS = (40.0, 5.0, 2.0, 0.8)

CRITICAL_SHARES = (0.85, 0.68, 0.55, 0.45, 0.37, 0.31, 0.26, 0.22, 0.185, 0.155)

# How sharply the steady rate turns into the falling one.
TURNS = (1.5, 2.2, 4.0, 8.0)

# Water moves faster the more there is, so the slow end is a little slower than the fall before it.
WETTER_FASTER = 0.35

SERIES_TERMS = 60

MAX_PROGRESS = 16.0

PROGRESS_STEP = 0.01


class CurveFamily(NamedTuple):
    """Shares of free water left: curves as rows, progress (`rate · days`) in steps of 0.01 as columns.

    `log_scale` belongs to the exponential at the end of each curve: share left = exp(log_scale - progress).
    """

    shares: FloatArray
    log_scale: FloatArray


@cache
def curve_family() -> CurveFamily:
    """All curves, diffusion-limited ones first. Computed once per process, in about 20 ms."""
    progress = np.arange(0.0, MAX_PROGRESS, PROGRESS_STEP)
    slabs = [_slab_curve(progress, biot) for biot in BIOTS]
    steady = [
        _steady_rate_curve(progress, critical, turn)
        for critical in CRITICAL_SHARES
        for turn in TURNS
    ]
    plain = (np.exp(-progress), 0.0)
    curves = [*slabs, plain, *steady]
    return CurveFamily(
        shares=np.vstack([shares for shares, _ in curves]),
        log_scale=np.array([log_scale for _, log_scale in curves]),
    )


def shares_left(progress: FloatArray) -> FloatArray:
    """Share of free water left of each curve (first axis) at each progress (array of any shape)."""
    law = curve_family()
    at = np.minimum(progress / PROGRESS_STEP, law.shares.shape[1] - 1.001)
    low = at.astype(np.intp)
    part = at - low
    between: FloatArray = law.shares[:, low] * (1 - part) + law.shares[:, low + 1] * part
    return between


def _slab_curve(progress: FloatArray, biot: float) -> tuple[FloatArray, float]:
    roots = _slab_roots(biot)
    heights = 2 * biot**2 / (roots**2 * (roots**2 + biot**2 + biot))
    # A finite series does not sum to 1 at the start; the missing part is treated as lost at once.
    decays = np.exp(-np.outer((roots / roots[0]) ** 2, progress))
    shares = heights @ decays
    shares[0] = 1.0
    return shares, float(np.log(heights[0]))


def _slab_roots(biot: float) -> FloatArray:
    """Roots of x·tan x = biot, one in each interval [nπ, nπ + π/2], by bisection."""
    turns = np.arange(SERIES_TERMS) * np.pi
    low, high = turns + 1e-9, turns + np.pi / 2 - 1e-9
    for _ in range(60):
        middle = (low + high) / 2
        below = middle * np.tan(middle) < biot
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return (low + high) / 2


def _steady_rate_curve(
    progress: FloatArray, critical: float, turn: float
) -> tuple[FloatArray, float]:
    """Curve that falls by share/(1 + (share/critical)^turn)^(1/turn) per unit of progress (midpoint rule)."""
    shares = np.empty_like(progress)
    share = 1.0
    for place in range(len(progress)):
        shares[place] = share
        half = share - _fall_rate(share, critical, turn) * PROGRESS_STEP / 2
        share -= _fall_rate(half, critical, turn) * PROGRESS_STEP
    return shares, float(np.log(shares[-1]) + progress[-1])


def _fall_rate(share: float, critical: float, turn: float) -> float:
    faster = 1 + WETTER_FASTER * share
    return float(faster * share / (1 + (share / critical) ** turn) ** (1 / turn))
