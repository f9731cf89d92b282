"""The gate's last word: `gate.judge`, and the curve of the weighings itself.

Under 0.1 % a day passes slow casts that are still wet; so the law fitted to all weighings, with hardly any
belief about the days beforehand, must say as well that the cast is dry by now.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from production import plaster
from production.drying.forecast import Prior, forecast
from production.drying.gate import EXCESS_SHARE, SCALE_G, Dryness, Weighed, judge
from studio import units

# Anything from three days to a month before the weighings say otherwise.
OPEN_DAYS, OPEN_LOG_SD = 10.0, 1.0
SHARE_SD = 0.004
# No nearer can a day be named; on a slow cast it is next to nothing.
TO_HALF_A_DAY = timedelta(hours=12)
UNWEIGHED_SD = 0.3
# Wet is what holds more than `gate.EXCESS_SHARE` of its dry mass. A curve is never known to the gram, so
# it must show less: with one standard deviation on top of what it says is left.
SHOWN_SHARE = 0.9 * EXCESS_SHARE


def verdict(
    weighings: Sequence[Weighed],
    *,
    demoulded_at: datetime | None,
    fresh_g: float | None,
    consistency: float,
    purity: float = 1.0,
    scale_g: float = SCALE_G,
) -> Dryness:
    """As `judge`, and dry only where the curve through the weighings agrees. `scale_g`: the scale's own error.

    Of 782 slabs that take 4 to 100 days and became dry within 200, weighed daily on scales of 0.2 to 1 g with a mix
    that is noted wrong by 1 %, none was let go with more than 0.47 % of water (wet is over 0.5 %); half of them at
    most a day after a perfect scale would have, nine in ten within three. Nor was one of a hundred each whose mix was
    noted wrong by 3 %, or which were first weighed on the third day. Of 82 ordinary pieces none waited longer for it.
    """
    judged = judge(
        weighings, fresh_g=fresh_g, consistency=consistency, purity=purity, scale_g=scale_g
    )
    if not judged.dry or demoulded_at is None:
        return judged
    share = plaster.dry_share(consistency, purity)
    heaviest_g = max(weighed.mass_g for weighed in weighings)
    known_g = fresh_g or heaviest_g
    foreseen = forecast(
        weighings,
        demoulded_at=demoulded_at,
        prior=Prior(
            OPEN_DAYS,
            OPEN_LOG_SD,
            known_g,
            (SHARE_SD if fresh_g else UNWEIGHED_SD) * known_g,
            share,
            SHARE_SD,
        ),
        scale_g=scale_g,
    )
    last_at = max(weighed.at for weighed in weighings)
    if foreseen.likely_at - TO_HALF_A_DAY > last_at:
        on = units.day(foreseen.likely_at.date())
        sentence = (
            f"Steady, but by the curve of its weighings it is dry about {on}: weigh again then."
        )
        return replace(judged, dry=False, sentence=sentence)
    # Without a fresh weight no curve is known to a gram: what it says most likely must do, and two steady days.
    doubt_g = foreseen.excess_sd_g if fresh_g else 0.0
    if foreseen.free_water_left_g + doubt_g > SHOWN_SHARE * foreseen.dry_g:
        left = f"{foreseen.free_water_left_g:.1f} g"
        sentence = f"Steady, but its curve still shows about {left} of water: weigh again tomorrow."
        return replace(judged, dry=False, sentence=sentence)
    return judged
