"""Forecast of the day on which a cast will be dry, with an interval, from its weighings and prior knowledge.

Dry means what `by_weight.judge_by_weight` means: an excess under 0.5 % of the dry mass, 93 % of the free water gone,
and under 0.1 % lost in the last 24 hours. The day forecast is the first on which a perfect scale would show all
three.

Before any weighing, the days come from thickness, free water and room (`prior_days`), or from the unit's own pieces
(`learning`). Each weighing narrows them: over a grid of rates and curves (`curves`), dry mass and free water are
fitted as two Gaussian unknowns with the mix as prior, and each grid point is weighted by its likelihood. The
uncertainty of the future room, which no weighing can tell, widens the interval.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache

import numpy as np

from production.drying.air import ORDINARY_ROOM, Room, evaporation_g_per_m2_h
from production.drying.by_weight import (
    EXCESS_SHARE,
    FREE_WATER_GONE,
    STEADY_PERCENT_PER_DAY,
    Weighed,
)
from production.drying.clock import USUAL_CLOCK, DryingClock
from production.drying.curves import FloatArray, curve_family, shares_left

ORDINARY_DAYS = 7.0  # about a week: common practice, no source
ORDINARY_THICKNESS_MM = 20.0
ORDINARY_FREE_G_PER_ML = 0.48
MAX_DAYS = 120.0

# Share of the drying time governed by the air, the rest by the inside of the cast: no source; the weighings of the
# unit's own pieces correct it (`learning`).
AIR_SHARE = 0.5
UNLEARNT_LOG_SD = 0.35

_RATES = 221
_RATES_SPAN = (-2.8, 1.6)  # logarithms around the likely rate
_TAILS = 5.0  # degrees of freedom of Student's t: a piece may differ much from all earlier ones
_CURVE_ERROR = 0.008  # as a share of the free water: no cast follows a curve exactly
_ROOM_LOG_SD = 0.02
_END_SD_DAYS = 0.13
# The last water leaves a little slower than any exponential: on four thousand simulated histories (seeds 3001 to
# 3004) the forecast was 0.06 days early on average.
_END_LATER_DAYS = 0.06
_LATER_STEPS = np.array([-1.6448536, -1.0364334, -0.6744898, -0.3853205, -0.1256613])
ONE_IN_TEN_SD = 1.2815516


@dataclass(frozen=True, slots=True)
class Prior:
    """What is known of a cast before its weighings.

    `days` from demoulding to dry with the standard deviation of their logarithm; the mass at demoulding and the share
    of it that remains when dry, each with its standard deviation. `curves`: the probability of each curve of
    `curves.curve_family`; empty means all alike.
    """

    days: float
    days_log_sd: float
    fresh_g: float
    fresh_sd_g: float
    dry_share: float
    dry_share_sd: float
    curves: Sequence[float] = ()


@dataclass(frozen=True, slots=True)
class Forecast:
    """When the cast will be dry: 10 % before `early_at`, 10 % after `late_at`, `likely_at` on average.

    `dry_g`, `free_water_left_g` and its standard deviation `excess_sd_g` are estimates at the last weighing (or at
    demoulding). `curves`: the probability of each curve of `curves.curve_family`, empty before the first weighing.
    """

    early_at: datetime
    likely_at: datetime
    late_at: datetime
    dry_g: float
    free_water_left_g: float
    excess_sd_g: float
    curves: tuple[float, ...] = ()


def prior_days(
    thickness_mm: float = ORDINARY_THICKNESS_MM,
    free_g_per_ml: float = ORDINARY_FREE_G_PER_ML,
    room: Room = ORDINARY_ROOM,
) -> float:
    """Days from demoulding to dry for a slab open on both faces: 7 for an ordinary piece and room, at most 120.

    The share of the air grows with the water behind each face and falls with the evaporation of the room; the share of
    the inside grows with the square of the thickness. 120 if the air takes no water.
    Raises ValueError unless thickness and free water are above zero.
    """
    if not thickness_mm > 0 or not free_g_per_ml > 0:
        raise ValueError("Thickness and free water must be above zero.")
    drought = evaporation_g_per_m2_h(room) / evaporation_g_per_m2_h(ORDINARY_ROOM)
    thicker = thickness_mm / ORDINARY_THICKNESS_MM
    wetter = free_g_per_ml / ORDINARY_FREE_G_PER_ML
    if drought <= 0:
        return MAX_DAYS
    days = ORDINARY_DAYS * (AIR_SHARE * thicker * wetter / drought + (1 - AIR_SHARE) * thicker**2)
    return min(days, MAX_DAYS)


def forecast_drying(
    weighings: Sequence[Weighed],
    *,
    demoulded_at: datetime,
    prior: Prior,
    scale_g: float,
    clock: DryingClock = USUAL_CLOCK,
) -> Forecast:
    """Forecast when a demoulded cast will be dry, from its weighings (in any order; there may be none).

    `scale_g` is the error of the scale in grams. The days of `prior` are days in the usual room; `clock` converts them.
    About 5 ms.
    """
    ordered = sorted(weighings, key=lambda weighed: weighed.at)
    if not ordered:
        return _forecast_unweighed(demoulded_at, prior, clock)
    after_days = np.array([clock.passed_days(demoulded_at, weighed.at) for weighed in ordered])
    masses_g = np.array([weighed.mass_g for weighed in ordered])
    rates = _rates(prior.days)
    fitted = _fit_masses(np.maximum(after_days, 0.0), masses_g, rates, prior, scale_g)
    dry_days = _dry_days(rates, fitted.dry_g, fitted.free_g)
    log_weight = fitted.log_weight + _log_prior(dry_days, prior)
    if prior.curves:
        log_weight += np.log(np.asarray(prior.curves))[:, None]
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    last_day = float(after_days[-1])
    early, likely, late = _interval(dry_days, weight, last_day)
    left_g = fitted.free_g * shares_left(rates * max(last_day, 0.0))
    left_mean_g = float((weight * left_g).sum())
    return Forecast(
        early_at=clock.after(demoulded_at, early),
        likely_at=clock.after(demoulded_at, likely),
        late_at=clock.after(demoulded_at, late),
        dry_g=float((weight * fitted.dry_g).sum()),
        free_water_left_g=left_mean_g,
        excess_sd_g=float(np.sqrt((weight * (left_g - left_mean_g) ** 2).sum())),
        curves=tuple(float(each) for each in weight.sum(1)),
    )


def _forecast_unweighed(demoulded_at: datetime, prior: Prior, clock: DryingClock) -> Forecast:
    days = prior.days * np.exp(np.array([-1.0, 0.0, 1.0]) * ONE_IN_TEN_SD * prior.days_log_sd)
    early_at, likely_at, late_at = (clock.after(demoulded_at, float(each)) for each in days)
    dry_g = prior.fresh_g * prior.dry_share
    free_sd_g = float(_masses_covariance(prior)[1, 1] ** 0.5)
    return Forecast(early_at, likely_at, late_at, dry_g, prior.fresh_g - dry_g, free_sd_g)


@dataclass(frozen=True, slots=True)
class _FittedMasses:
    """For each curve (rows) and rate (columns): the most likely masses and their log-likelihood."""

    dry_g: FloatArray
    free_g: FloatArray
    log_weight: FloatArray


def _log_prior(dry_days: FloatArray, prior: Prior) -> FloatArray:
    """Log of the prior density of the days until dry: Student's t of their logarithm."""
    error = np.log(dry_days / prior.days) / prior.days_log_sd
    believed: FloatArray = -(_TAILS + 1) / 2 * np.log1p(error**2 / _TAILS)
    return believed


def _fit_masses(
    after_days: FloatArray, masses_g: FloatArray, rates: FloatArray, prior: Prior, scale_g: float
) -> _FittedMasses:
    """Fit dry mass and free water as Gaussian unknowns for each curve and rate, in closed form."""
    shares = shares_left(np.multiply.outer(rates, after_days))
    dry_g = prior.fresh_g * prior.dry_share
    free_g = prior.fresh_g - dry_g
    precision = np.linalg.inv(_masses_covariance(prior))
    left = np.clip((masses_g - dry_g) / (masses_g.max() - dry_g), 0.01, 1.0)
    noise_var = scale_g**2 / 3 + (_CURVE_ERROR * free_g * left * (1 - np.log(left))) ** 2
    residual_g = masses_g - dry_g - free_g * shares
    dd = precision[0, 0] + (1 / noise_var).sum()
    df = precision[0, 1] + (shares / noise_var).sum(-1)
    ff = precision[1, 1] + (shares**2 / noise_var).sum(-1)
    along_d = (residual_g / noise_var).sum(-1)
    along_f = (residual_g * shares / noise_var).sum(-1)
    determinant = dd * ff - df**2
    more_dry_g = (ff * along_d - df * along_f) / determinant
    more_free_g = (dd * along_f - df * along_d) / determinant
    misfit = (residual_g**2 / noise_var).sum(-1) - (more_dry_g * along_d + more_free_g * along_f)
    return _FittedMasses(
        dry_g=np.maximum(dry_g + more_dry_g, 1.0),
        free_g=np.maximum(free_g + more_free_g, 0.1),
        log_weight=-0.5 * (misfit + np.log(determinant)),
    )


def _masses_covariance(prior: Prior) -> FloatArray:
    """Prior covariance of dry mass and free water: both grow with the fresh mass, the dry share splits it."""
    by_mass = np.array([prior.dry_share, 1 - prior.dry_share]) * prior.fresh_sd_g
    by_share = np.array([1.0, -1.0]) * prior.fresh_g * prior.dry_share_sd
    return np.outer(by_mass, by_mass) + np.outer(by_share, by_share)


def _dry_days(rates: FloatArray, dry_g: FloatArray, free_g: FloatArray) -> FloatArray:
    """Days from demoulding until all three limits of dryness are met, by the exponential end of each curve."""
    steady_g = STEADY_PERCENT_PER_DAY / 100 * dry_g / np.expm1(rates)
    limit_g = np.minimum(EXCESS_SHARE * dry_g, (1 - FREE_WATER_GONE) * free_g)
    limit_g = np.minimum(limit_g, steady_g)
    days = (curve_family().log_scale[:, None] + np.log(free_g / limit_g)) / rates
    return np.clip(days, 1.0, MAX_DAYS)


def _rates(days: float) -> FloatArray:
    """Grid of rates per day around the rate at which an exponential with an ordinary mix needs `days`."""
    return _rate_of(round(days, 2)) * np.exp(np.linspace(*_RATES_SPAN, _RATES))


@cache
def _rate_of(days: float) -> float:
    low, high = 1e-3, 20.0
    for _ in range(40):
        middle = (low * high) ** 0.5
        dry_g, free_g = np.full((1, 1), 70.0), np.full((1, 1), 30.0)
        rate = np.array([middle])
        steady_g = STEADY_PERCENT_PER_DAY / 100 * dry_g / np.expm1(rate)
        needed = float((np.log(free_g / np.minimum(EXCESS_SHARE * dry_g, steady_g)) / rate).item())
        low, high = (middle, high) if needed > days else (low, middle)
    return float((low * high) ** 0.5)


def _interval(
    dry_days: FloatArray, weight: FloatArray, last_day: float
) -> tuple[float, float, float]:
    """10 % quantile, mean and 90 % quantile of the days until dry, widened by the uncertainty of the future room."""
    steps = np.concatenate([_LATER_STEPS, -_LATER_STEPS[::-1]])
    believed = weight > weight.max() * 1e-6
    days, weight = dry_days[believed][:, None], weight[believed][:, None]
    days = days + _END_LATER_DAYS
    flat = (days + steps * np.hypot(_ROOM_LOG_SD * (days - last_day), _END_SD_DAYS)).ravel()
    order = np.argsort(flat)
    reached = np.cumsum(np.broadcast_to(weight, (len(weight), len(steps))).ravel()[order])
    reached /= reached[-1]
    early, late = (float(flat[order][np.searchsorted(reached, q)]) for q in (0.1, 0.9))
    likely = float((days * weight).sum() / weight.sum())
    return early, min(max(likely, early), late), late
