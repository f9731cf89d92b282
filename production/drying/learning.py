"""What a unit's own dried pieces teach of the next one.

Each past piece took some days; thickness, water and room alone would have said others (`prior_days`). The
logarithm of their ratio is a sum of the unit's own part and smaller parts of limb, season, rack place and
thickness, each drawn towards none (a Gaussian linear model with known prior spreads). So the first pieces
move the forecast a little, many move it far, and a place that was used twice is hardly believed.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from production.drying.law import Numbers, family

# Prior spreads in logarithms: of the unit as a whole (see `forecast.UNLEARNT_LOG_SD`), its limbs, its
# seasons, its places, twice the thickness, and from piece to piece. No source: beliefs that data outweigh.
UNIT_SD = 0.32
LIMB_SD = 0.08
SEASON_SD = 0.10
PLACE_SD = 0.07
THICKNESS_SD = 0.25
PIECE_SD = 0.12
PIECE_SD_WEIGHT = 5.0  # as if so many pieces had said it
CURVES_WEIGHT = 2.0
SEASONS = ("winter", "spring", "summer", "autumn")
MOST_PIECES = 400


@dataclass(frozen=True, slots=True)
class Circumstances:
    """Of one piece: limb ("left_hand"), month of drying (1 to 12), rack place, thickness in mm."""

    limb: str
    month: int
    place: int | None
    thickness_mm: float

    @property
    def season(self) -> str:
        return SEASONS[self.month % 12 // 3]


@dataclass(frozen=True, slots=True)
class Dried:
    """A piece that dried: the days it took, those that thickness, water and room would have said, and how
    much each curve of `law.family` was believed in the end (empty: not known).
    """

    about: Circumstances
    days: float
    unlearnt_days: float
    curves: Sequence[float] = ()


@dataclass(frozen=True, slots=True)
class Learnt:
    """By what factor the days of `prior_days` are to be changed, its logarithm's spread, and from how many pieces."""

    factor: float
    log_sd: float
    pieces: int
    curves: tuple[float, ...] = ()


def learn(past: Sequence[Dried], about: Circumstances) -> Learnt:
    """The factor for a piece in these circumstances: 1 and the unlearnt spread without any past piece.

    At most the last 400 pieces are asked; about 5 ms then.
    """
    used = past[-MOST_PIECES:]
    if not used:
        return Learnt(1.0, _spread(_design([about], [about]), _priors([about]), PIECE_SD), 0)
    named = [*(piece.about for piece in used), about]
    design = _design(named, named)
    seen, wanted = design[:-1], design[-1:]
    ratios = np.log([piece.days / piece.unlearnt_days for piece in used])
    variances = _priors(named)
    piece_sd = PIECE_SD
    for _ in range(3):
        weights, covariance = _solve(seen, ratios, variances, piece_sd)
        misses = ratios - seen @ weights
        told = PIECE_SD_WEIGHT + len(used)
        piece_sd = float(np.sqrt((PIECE_SD_WEIGHT * PIECE_SD**2 + float(misses @ misses)) / told))
    variance = float((wanted @ covariance @ wanted.T).item()) + piece_sd**2
    factor = float(np.exp((wanted @ weights).item()))
    return Learnt(factor, variance**0.5, len(used), _curves(used))


def _curves(past: Sequence[Dried]) -> tuple[float, ...]:
    """How much each curve is believed of the next piece: alike, and more with every piece that followed it."""
    number = len(family().log_scale)
    # Another release may know other curves: what was kept of those says nothing of these.
    told = [piece.curves for piece in past if len(piece.curves) == number]
    if not told:
        return ()
    alike = np.full(number, CURVES_WEIGHT / number)
    believed = alike + np.sum(told, axis=0)
    return tuple(float(each) for each in believed / believed.sum())


def _solve(
    seen: Numbers, ratios: Numbers, variances: Numbers, piece_sd: float
) -> tuple[Numbers, Numbers]:
    precision = seen.T @ seen / piece_sd**2 + np.diag(1 / variances)
    covariance = np.linalg.inv(precision).astype(np.float64)
    return covariance @ (seen.T @ ratios) / piece_sd**2, covariance


def _spread(design: Numbers, variances: Numbers, piece_sd: float) -> float:
    return float(np.sqrt((design[-1] ** 2 * variances).sum() + piece_sd**2))


def _groups(named: Sequence[Circumstances]) -> list[tuple[str, object]]:
    keys = {("limb", each.limb) for each in named} | {("season", each.season) for each in named}
    places: set[tuple[str, object]] = {("place", each.place) for each in named if each.place}
    return sorted(keys | places, key=str)


def _design(rows: Sequence[Circumstances], named: Sequence[Circumstances]) -> Numbers:
    """One column for the unit, one for the thickness (in doublings of 20 mm), one for each group."""
    groups = _groups(named)
    return np.array(
        [
            [
                1.0,
                float(np.log2(row.thickness_mm / 20.0)),
                *(float(_belongs(row, kind, value)) for kind, value in groups),
            ]
            for row in rows
        ]
    )


def _belongs(row: Circumstances, kind: str, value: object) -> bool:
    return bool(getattr(row, kind) == value)


def _priors(named: Sequence[Circumstances]) -> Numbers:
    spreads = {"limb": LIMB_SD, "season": SEASON_SD, "place": PLACE_SD}
    return np.array(
        [UNIT_SD**2, THICKNESS_SD**2, *(spreads[kind] ** 2 for kind, _ in _groups(named))]
    )
