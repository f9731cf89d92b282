"""Learning of drying times from a unit's own dried pieces.

For each past piece, the logarithm of (actual days / days by `prior_days`) is modelled as the unit's own effect plus
smaller effects of limb, season, rack place and thickness: a Gaussian linear model that shrinks each towards zero with a
known prior spread. So the first pieces move the forecast a little, many move it far, and a rack place used only twice
has hardly any effect.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from production.drying.curves import FloatArray, curve_family

# Prior standard deviations of the logarithm: unit (see `forecast.UNLEARNT_LOG_SD`), limb, season, rack place,
# doubling of the thickness, and piece to piece. No source: assumptions that data outweigh.
UNIT_SD = 0.32
LIMB_SD = 0.08
SEASON_SD = 0.10
PLACE_SD = 0.07
THICKNESS_SD = 0.25
PIECE_SD = 0.12
PIECE_SD_WEIGHT = 5.0  # counts like so many pieces
CURVES_WEIGHT = 2.0
SEASONS = ("winter", "spring", "summer", "autumn")
MAX_PIECES = 400


@dataclass(frozen=True, slots=True)
class Circumstances:
    """Circumstances of one piece: limb ("left_hand"), month of drying (1 to 12), rack place, thickness in mm."""

    limb: str
    month: int
    place: int | None
    thickness_mm: float

    @property
    def season(self) -> str:
        return SEASONS[self.month % 12 // 3]


@dataclass(frozen=True, slots=True)
class DriedPiece:
    """A dried piece: the days it took, and the days by thickness, water and room alone.

    `curves`: the final probability of each curve of `curves.curve_family`; empty if unknown.
    """

    about: Circumstances
    days: float
    unlearnt_days: float
    curves: Sequence[float] = ()


@dataclass(frozen=True, slots=True)
class LearntFactor:
    """Factor on the days of `prior_days`, the standard deviation of its logarithm, and the number of pieces used."""

    factor: float
    log_sd: float
    pieces: int
    curves: tuple[float, ...] = ()


def learn_drying(past: Sequence[DriedPiece], about: Circumstances) -> LearntFactor:
    """Estimate the factor for a piece in these circumstances; 1 with the prior spread if there are no past pieces.

    Uses the last 400 pieces at most; about 5 ms.
    """
    used = past[-MAX_PIECES:]
    if not used:
        return LearntFactor(
            1.0, _spread(_design_matrix([about], [about]), _prior_variances([about]), PIECE_SD), 0
        )
    named = [*(piece.about for piece in used), about]
    design = _design_matrix(named, named)
    seen, wanted = design[:-1], design[-1:]
    ratios = np.log([piece.days / piece.unlearnt_days for piece in used])
    variances = _prior_variances(named)
    piece_sd = PIECE_SD
    for _ in range(3):
        weights, covariance = _posterior(seen, ratios, variances, piece_sd)
        misses = ratios - seen @ weights
        told = PIECE_SD_WEIGHT + len(used)
        piece_sd = float(np.sqrt((PIECE_SD_WEIGHT * PIECE_SD**2 + float(misses @ misses)) / told))
    variance = float((wanted @ covariance @ wanted.T).item()) + piece_sd**2
    factor = float(np.exp((wanted @ weights).item()))
    return LearntFactor(factor, variance**0.5, len(used), _curves(used))


def _curves(past: Sequence[DriedPiece]) -> tuple[float, ...]:
    """Probability of each curve for the next piece: uniform at first, more for curves that past pieces followed."""
    number = len(curve_family().log_scale)
    # Figures stored by another release may be of other curves: they do not count.
    told = [piece.curves for piece in past if len(piece.curves) == number]
    if not told:
        return ()
    alike = np.full(number, CURVES_WEIGHT / number)
    believed = alike + np.sum(told, axis=0)
    return tuple(float(each) for each in believed / believed.sum())


def _posterior(
    seen: FloatArray, ratios: FloatArray, variances: FloatArray, piece_sd: float
) -> tuple[FloatArray, FloatArray]:
    precision = seen.T @ seen / piece_sd**2 + np.diag(1 / variances)
    covariance = np.linalg.inv(precision).astype(np.float64)
    return covariance @ (seen.T @ ratios) / piece_sd**2, covariance


def _spread(design: FloatArray, variances: FloatArray, piece_sd: float) -> float:
    return float(np.sqrt((design[-1] ** 2 * variances).sum() + piece_sd**2))


def _groups(named: Sequence[Circumstances]) -> list[tuple[str, object]]:
    keys = {("limb", each.limb) for each in named} | {("season", each.season) for each in named}
    places: set[tuple[str, object]] = {("place", each.place) for each in named if each.place}
    return sorted(keys | places, key=str)


def _design_matrix(rows: Sequence[Circumstances], named: Sequence[Circumstances]) -> FloatArray:
    """Design matrix: a column for the unit, one for the thickness (doublings of 20 mm), one for each group."""
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


def _prior_variances(named: Sequence[Circumstances]) -> FloatArray:
    spreads = {"limb": LIMB_SD, "season": SEASON_SD, "place": PLACE_SD}
    return np.array(
        [UNIT_SD**2, THICKNESS_SD**2, *(spreads[kind] ** 2 for kind, _ in _groups(named))]
    )
