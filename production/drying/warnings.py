"""Warnings about a weighing or a drying room, in sentences that say what to do."""

from collections.abc import Sequence
from math import sqrt

from production.drying.air import (
    TOO_HOT_C,
    WARM_C,
    Room,
    evaporation_g_per_m2_h,
)
from production.drying.by_weight import SCALE_G, Weighed, is_heavier

# Below this an ordinary cast needs many weeks, and mould grows before it is dry (no source).
TOO_DAMP_G_PER_M2_H = 6.0
# A free wet surface loses more than any plaster; an unrecorded draught may double that.
MAX_LOSS_FACTOR = 2.0


def room_warnings(room: Room) -> list[str]:
    """Warn of a room that is too warm for plaster, or too damp for anything to dry."""
    said: list[str] = []
    if room.temperature_c > TOO_HOT_C:
        said.append(
            f"{room.temperature_c:g} °C: set plaster loses its bound water above {TOO_HOT_C:g} °C and crumbles. "
            "Take the casts out now."
        )
    elif room.temperature_c > WARM_C:
        said.append(
            f"{room.temperature_c:g} °C is close to where plaster spoils ({TOO_HOT_C:g} °C): keep it at 42 °C or less."
        )
    takes = evaporation_g_per_m2_h(room)
    if takes < TOO_DAMP_G_PER_M2_H:
        said.append(
            f"In this air ({room.temperature_c:g} °C, {room.humidity_percent:g} % humidity) nothing will ever be dry: "
            "warm the room, air it, or run a dehumidifier."
        )
    return said


def weighing_warnings(
    weighings: Sequence[Weighed], *, room: Room, area_m2: float, scale_g: float = SCALE_G
) -> list[str]:
    """Warn if the last weighing is heavier than the one before, or lighter than evaporation in this room allows.

    `area_m2` is the surface open to the air; `scale_g` the error of the scale.
    """
    ordered = sorted(weighings, key=lambda weighed: weighed.at)
    if len(ordered) < 2:  # noqa: PLR2004 - it takes two to compare
        return []
    before, last = ordered[-2:]
    if is_heavier(before, last.mass_g, scale_g):
        return [
            f"Heavier by {last.mass_g - before.mass_g:.1f} g than last time: another piece, a slip, or it got wet."
        ]
    hours = (last.at - before.at).total_seconds() / 3600
    most_g = MAX_LOSS_FACTOR * evaporation_g_per_m2_h(room) * area_m2 * hours + 2 * scale_g
    lost_g = before.mass_g - last.mass_g
    if lost_g > most_g:
        return [
            (
                f"{lost_g:.0f} g lost in {_duration(hours)} is more than this air can take (about {most_g:.0f} g): "
                "is it the same piece, and is the scale at zero? Strike the slip out."
            )
        ]
    return []


def slab_area_m2(volume_ml: float, depth_mm: float) -> float:
    """Surface in m² of a square slab of this volume and depth: both faces and the edges."""
    face_m2 = volume_ml / depth_mm / 1000
    return 2 * face_m2 + 4 * sqrt(face_m2) * depth_mm / 1000


def _duration(hours: float) -> str:
    return f"{hours:.0f} hours" if hours < 48 else f"{hours / 24:.0f} days"  # noqa: PLR2004
