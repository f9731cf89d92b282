"""Final judgement whether a cast is dry: by weight (`by_weight`) and by the drying curve through its weighings.

"Under 0.1 % a day" passes slow casts that are still wet. So the curve fitted to all weighings, with hardly any prior
assumption about the days, must show as well that the cast is dry by now.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from production import plaster
from production.drying.by_weight import EXCESS_SHARE, SCALE_G, Dryness, Weighed, judge_by_weight
from production.drying.forecast import Forecast, Prior, forecast_drying
from studio import units

# A prior of anything from three days to a month, so that the weighings decide.
VAGUE_DAYS, VAGUE_LOG_SD = 10.0, 1.0

SHARE_SD = 0.004

# A day cannot be forecast more exactly; on a slow cast half a day makes hardly any difference.
DAY_TOLERANCE = timedelta(hours=12)

UNWEIGHED_SD = 0.3

# A cast is wet if it holds more than `EXCESS_SHARE` of its dry mass. A curve is never known to the gram, so the
# water it shows, plus one standard deviation, must be less.
ALLOWED_SHARE = 0.9 * EXCESS_SHARE


def judge_dryness(
    weighings: Sequence[Weighed],
    *,
    demoulded_at: datetime | None,
    fresh_g: float | None,
    consistency: float,
    purity: float = 1.0,
    scale_g: float = SCALE_G,
) -> Dryness:
    """Judge as `judge_by_weight`, but dry only if the curve through the weighings agrees. `scale_g`: error of the scale.

    Simulated: of 782 slabs that take 4 to 100 days (dry within 200), weighed daily on scales of 0.2 to 1 g with a mix
    noted wrong by 1 %, none passed with more than 0.47 % of water (wet is over 0.5 %); half passed at most a day after
    a perfect scale would have shown it, 90 % within three. None passed wet either of a hundred with a mix noted wrong by
    3 %, nor of a hundred first weighed on the third day. Of 82 ordinary pieces none waited longer for this check.
    """
    judged = judge_by_weight(
        weighings, fresh_g=fresh_g, consistency=consistency, purity=purity, scale_g=scale_g
    )
    if not judged.dry or demoulded_at is None:
        return judged
    heaviest_g = max(weighed.mass_g for weighed in weighings)
    prior = Prior(
        days=VAGUE_DAYS,
        days_log_sd=VAGUE_LOG_SD,
        fresh_g=fresh_g or heaviest_g,
        fresh_sd_g=(SHARE_SD if fresh_g else UNWEIGHED_SD) * (fresh_g or heaviest_g),
        dry_share=plaster.dry_share(consistency, purity),
        dry_share_sd=SHARE_SD,
    )
    foreseen = forecast_drying(weighings, demoulded_at=demoulded_at, prior=prior, scale_g=scale_g)
    last_at = max(weighed.at for weighed in weighings)
    sentence = _why_not_dry_by_curve(foreseen, last_at, has_fresh_weight=bool(fresh_g))
    return replace(judged, dry=False, sentence=sentence) if sentence else judged


def _why_not_dry_by_curve(
    foreseen: Forecast, last_at: datetime, *, has_fresh_weight: bool
) -> str | None:
    if foreseen.likely_at - DAY_TOLERANCE > last_at:
        on = units.day(foreseen.likely_at.date())
        return f"Steady, but by the curve of its weighings it is dry about {on}: weigh again then."
    # Without a fresh weight no curve is known to a gram: its mean has to do, together with two steady days.
    doubt_g = foreseen.excess_sd_g if has_fresh_weight else 0.0
    if foreseen.free_water_left_g + doubt_g > ALLOWED_SHARE * foreseen.dry_g:
        left = f"{foreseen.free_water_left_g:.1f} g"
        return f"Steady, but its curve still shows about {left} of water: weigh again tomorrow."
    return None
