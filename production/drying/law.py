"""The law a cast dries by: one family of curves, from a slab that its inside holds back to one that
dries at a steady rate first.

Each curve gives the share of the free water left against `rate · days`, where `rate` (per day) is that
of its slow end; all of them end in an exponential. Those whose inside holds the water back are the
series of the plane slab with a resistance at its surface (Crank, The Mathematics of Diffusion, ch. 4.3.6
[mem]); the others keep a steady rate down to a critical share and fall exponentially from there [mem,
textbook], the turn being sharp or soft. Between the two lies the plain exponential. Which of them a cast
follows is found from its weighings, never assumed: plaster dries slower than an ideal porous body (Seck
and others, J. Mater. Sci. 50 (2015) 2491).
"""

from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.float64]

# Resistance inside over resistance at the surface (Biot number), and critical shares of free water.
BIOTS = (40.0, 5.0, 2.0, 0.8)
CRITICAL_SHARES = (0.85, 0.68, 0.55, 0.45, 0.37, 0.31, 0.26, 0.22, 0.185, 0.155)
# How sharply the steady rate turns into the falling one.
TURNS = (1.5, 2.2, 4.0, 8.0)
# Water moves faster where there is more of it, so the slow end is a little slower than the fall before it.
WETTER_FASTER = 0.35
SERIES_TERMS = 60
MOST_PROGRESS = 16.0
PROGRESS_STEP = 0.01


class Law(NamedTuple):
    """Curves as rows over one axis of progress (`rate · days`, in steps of 0.01 from 0).

    `log_scale` is of the exponential that each ends in: share left = exp(log_scale - progress).
    """

    shares: Numbers
    log_scale: Numbers


@cache
def family() -> Law:
    """All curves, those held back by their inside first. Worked out once a process, in some 20 ms."""
    progress = np.arange(0.0, MOST_PROGRESS, PROGRESS_STEP)
    slabs = [_slab(progress, biot) for biot in BIOTS]
    steady = [
        _steady_first(progress, critical, turn) for critical in CRITICAL_SHARES for turn in TURNS
    ]
    plain = (np.exp(-progress), 0.0)
    curves = [*slabs, plain, *steady]
    return Law(
        shares=np.vstack([shares for shares, _ in curves]),
        log_scale=np.array([log_scale for _, log_scale in curves]),
    )


def shares_left(progress: Numbers) -> Numbers:
    """Of each curve the share left at each progress (any shape): the curves are the first axis."""
    law = family()
    at = np.minimum(progress / PROGRESS_STEP, law.shares.shape[1] - 1.001)
    low = at.astype(np.intp)
    part = at - low
    between: Numbers = law.shares[:, low] * (1 - part) + law.shares[:, low + 1] * part
    return between


def _slab(progress: Numbers, biot: float) -> tuple[Numbers, float]:
    roots = _roots(biot)
    heights = 2 * biot**2 / (roots**2 * (roots**2 + biot**2 + biot))
    # A finite series falls short of the whole at the start: what is missing is gone at once.
    decays = np.exp(-np.outer((roots / roots[0]) ** 2, progress))
    shares = heights @ decays
    shares[0] = 1.0
    return shares, float(np.log(heights[0]))


def _roots(biot: float) -> Numbers:
    """Of x·tan x = biot, the first of each half turn, by halving."""
    turns = np.arange(SERIES_TERMS) * np.pi
    low, high = turns + 1e-9, turns + np.pi / 2 - 1e-9
    for _ in range(60):
        middle = (low + high) / 2
        below = middle * np.tan(middle) < biot
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return (low + high) / 2


def _steady_first(progress: Numbers, critical: float, turn: float) -> tuple[Numbers, float]:
    """Falls by share/(1 + (share/critical)^turn)^(1/turn) a unit of progress (midpoint rule)."""
    shares = np.empty_like(progress)
    share = 1.0
    for place in range(len(progress)):
        shares[place] = share
        half = share - _falls(share, critical, turn) * PROGRESS_STEP / 2
        share -= _falls(half, critical, turn) * PROGRESS_STEP
    return shares, float(np.log(shares[-1]) + progress[-1])


def _falls(share: float, critical: float, turn: float) -> float:
    faster = 1 + WETTER_FASTER * share
    return float(faster * share / (1 + (share / critical) ** turn) ** (1 / turn))
