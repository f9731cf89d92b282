"""Drying curves for tests, from two solvers that share nothing with `production/drying.py`.

No measured drying curve of a cast is published that we know of: these stand in, and say so.
"""

import math
from collections.abc import Callable, Iterable
from datetime import UTC, datetime, timedelta

from production.drying.by_weight import Weighed

RACKED_AT = datetime(2026, 11, 2, 9, tzinfo=UTC)

Curve = Callable[[float], float]


def moisture_ratio(fourier: float, terms: int = 200) -> float:
    """Share of the free water left in a slab that dries by diffusion alone (series solution)."""
    odd = range(1, 2 * terms, 2)
    factor = -(math.pi**2) * fourier / 4
    return 8 / math.pi**2 * sum(math.exp(n**2 * factor) / n**2 for n in odd)


def slab(dry_g: float, free_water_g: float, days_per_fourier: float) -> Curve:
    """Mass by day of a slab; its slowest part decays by π²/4 per `days_per_fourier`."""
    return lambda day: dry_g + free_water_g * moisture_ratio(day / days_per_fourier)


def two_stages(dry_g: float, free_water_g: float, critical_g: float, g_per_day: float) -> Curve:
    """Mass by day: a constant rate down to `critical_g` of free water, then an exponential."""
    turns_on_day = (free_water_g - critical_g) / g_per_day

    def mass_g(day: float) -> float:
        if day < turns_on_day:
            return dry_g + free_water_g - g_per_day * day
        return dry_g + critical_g * math.exp(-g_per_day / critical_g * (day - turns_on_day))

    return mass_g


def two_stage_days(free_g: float, critical_g: float, g_per_day: float, left_g: float) -> float:
    """Days until `left_g` of free water are left: t = (M0 - Mc)/R + (Mc/R) ln(Mc/Mf)."""
    slow = critical_g / g_per_day * math.log(critical_g / left_g)
    return (free_g - critical_g) / g_per_day + slow


def weighings(curve: Curve, days: Iterable[float], scale_g: float = 0.0) -> list[Weighed]:
    """Weigh a curve on these days, to the nearest mark of the scale (0: exactly)."""
    return [Weighed(RACKED_AT + timedelta(days=day), _read(curve(day), scale_g)) for day in days]


def _read(mass_g: float, scale_g: float) -> float:
    return round(mass_g / scale_g) * scale_g if scale_g else mass_g
