"""Expected sizes of hands and feet for the tablet."""

from collections.abc import Mapping
from datetime import datetime
from typing import cast

from bookings import times
from bookings.sittings import ages
from bookings.sittings.models import ClayPrint, Sitting
from bookings.tablet.pack import sittings_to_pack
from production.casts import limb_sizes
from production.casts.measures import own_calibrations
from studio.accounts.models import Unit
from studio.limbs import Limb
from studio.tablet.entries import pack_part


@pack_part("sizes")
def sizes_part(unit: Unit, now: datetime) -> dict[str, dict[str, int]]:
    """Return by print the expected length: mean and 90 % band in whole mm, at the child's age on the sitting's day."""
    own = own_calibrations(unit)
    return {
        str(clay_print.pk): _in_whole_mm(_expected(clay_print, sitting, own))
        for sitting in sittings_to_pack(unit, now)
        for clay_print in sitting.prints.all()
    }


def _expected(
    clay_print: ClayPrint, sitting: Sitting, own: Mapping[str, limb_sizes.Calibration]
) -> limb_sizes.Size:
    child = clay_print.piece.child
    day = times.local_day(sitting.starts_at, sitting.unit.time_zone)
    days = ages.corrected_days(child.born_on, child.due_on, day)
    kind = cast("limb_sizes.Limb", Limb(clay_print.piece.limb).kind)
    return limb_sizes.expected_length(kind, limb_sizes.age_in_months(max(days, 0)), own[kind])


def _in_whole_mm(size: limb_sizes.Size) -> dict[str, int]:
    return {
        "low_mm": round(size.low_mm),
        "mean_mm": round(size.mean_mm),
        "high_mm": round(size.high_mm),
    }
