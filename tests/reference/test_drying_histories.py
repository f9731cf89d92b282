"""The forecast of drying against 1,000 histories of an independent solver (`tests/histories.py`).

No published source: the goals are the project's own. Asked of 25 studios' 1,000 casts, each after the
studio's own pieces before it (20 at least) were weighed until they were dry:

- the day named once 80 % of the free water has gone is within half a day in 90 %;
- the day named after three daily weighings is within a day and a half in 80 %;
- the stated 80 % intervals hold 75 to 85 % of the truth, before any weighing, after three, and at 80 %.

A studio of which nothing is learnt is asked for less, and told so in its own test.

What the forecast takes for granted was chosen on seeds 2026 and 3001 to 3004, the width of the intervals once more after
9104 to 9108 had been seen. Judged on others, one thousand casts each. The day (9104 to 9108, 9201 to 9205): at 80 %
within half a day in 91.5 % of them all, 88.8 to 93.3 % by seed; after three weighings within a day and a half in 99.2 %
or more. The intervals (9201 to 9205): held 79.7 to 81.7 % before any weighing, 77.9 to 82.6 % after three, 76.6 to
85.2 % at 80 %. A studio of which nothing is learnt came within a day and a half in 75.5 to 89.1 %. With rooms that swing twice as much from day to day, or a mix noted wrong by 1 %, half a
day was met in 86 to 89 % (two seeds, an earlier choice).
"""

from datetime import timedelta

import numpy as np
import pytest

from production import plaster
from production.drying.air import Room
from production.drying.forecast import Prior, forecast_drying, prior_days
from production.drying.learning import Circumstances, DriedPiece, learn_drying
from tests import histories
from tests.proofs.whole import IS_WHOLE

STUDIOS, OF_STUDIO, BEFORE = 25, 60, 20
HALF_A_DAY, A_DAY_AND_A_HALF = 0.5, 1.5
SEEDS = (2026, 9201) if IS_WHOLE else (2026,)


@pytest.fixture(scope="module", params=SEEDS)
def told(request):
    return histories.histories(STUDIOS * OF_STUDIO, seed=request.param, of_studio=OF_STUDIO)


@pytest.fixture(scope="module")
def named(told):
    """Of each cast: (early, likely, late, truth) in days, before any weighing, after three, at 80 %, and cold."""
    dry_days = told.dry_days()
    found = {"none": [], "three": [], "at 80 %": [], "nothing learnt": []}
    for studio in range(STUDIOS):
        past = []
        for row in np.flatnonzero(told.studio == studio):
            truth, known = dry_days[row], learn_drying(past, about(told, row))
            if len(past) >= BEFORE:
                for when, until_h in moments(told, row):
                    found[when].append([*days_of(told, row, known, until_h), truth])
                cold = learn_drying([], about(told, row))
                until_h = told.weighed_h[row, 2]
                found["nothing learnt"].append([*days_of(told, row, cold, until_h), truth])
            past.append(dried(told, row, known, truth * 24 + 30))
    return {when: np.array(rows) for when, rows in found.items()}


def moments(told, row):
    left = (told.weighed_g[row] - told.dry_g[row]) / told.free_g[row]
    hours = told.weighed_h[row]
    return [("none", -1), ("three", hours[2]), ("at 80 %", hours[np.flatnonzero(left <= 0.2)[0]])]


def about(told, row):
    return Circumstances(
        "left_hand", int(told.month[row]), int(told.place[row]), float(told.thickness_mm[row])
    )


def unlearnt_days(told, row):
    room = Room(float(told.room_c[row]), float(told.room_percent[row]))
    free_g_per_ml = plaster.mix(1, told.consistency[row]).free_water_g
    return prior_days(float(told.thickness_mm[row]), free_g_per_ml, room)


def forecast(told, row, known, until_h):
    consistency = told.consistency[row]
    share, fresh_g = plaster.dry_share(consistency), told.weighed_g[row, 0]
    return forecast_drying(
        told.weighings(row, until_h),
        demoulded_at=histories.OUT_AT,
        prior=Prior(
            days=unlearnt_days(told, row) * known.factor,
            days_log_sd=known.log_sd,
            fresh_g=fresh_g,
            fresh_sd_g=0.12 * fresh_g,
            dry_share=share,
            dry_share_sd=share * 0.01 * consistency / (100 + consistency),
            curves=known.curves,
        ),
        scale_g=float(told.scale_g[row]),
    )


def days_of(told, row, known, until_h):
    found = forecast(told, row, known, until_h)
    ends = (found.early_at, found.likely_at, found.late_at)
    return [(at - histories.OUT_AT) / timedelta(days=1) for at in ends]


def dried(told, row, known, until_h):
    found = forecast(told, row, known, until_h)
    days = (found.likely_at - histories.OUT_AT) / timedelta(days=1)
    return DriedPiece(about(told, row), days, unlearnt_days(told, row), found.curves)


def within(rows, days):
    return float((abs(rows[:, 1] - rows[:, 3]) <= days).mean())


def held(rows):
    return float(((rows[:, 0] <= rows[:, 3]) & (rows[:, 3] <= rows[:, 2])).mean())


def test_there_are_a_thousand_and_they_differ(told, named):
    assert {when: len(rows) for when, rows in named.items()} == dict.fromkeys(named, 1000)
    days = named["none"][:, 3]
    assert 7 < np.median(days) < 9.5, "about a week [trade], to the strictest limit of the gate"
    assert np.quantile(days, 0.99) > 1.8 * np.quantile(days, 0.01)


def test_once_80_percent_has_gone_the_day_is_named_to_half_a_day_in_90_percent(named):
    assert within(named["at 80 %"], HALF_A_DAY) >= 0.9


def test_after_three_daily_weighings_it_is_named_to_a_day_and_a_half_in_80_percent(named):
    assert within(named["three"], A_DAY_AND_A_HALF) >= 0.8


@pytest.mark.parametrize("when", ["none", "three", "at 80 %"])
def test_the_stated_intervals_hold_what_they_say(named, when):
    assert 0.75 <= held(named[when]) <= 0.85


def test_a_studio_of_which_nothing_is_learnt_is_near_as_well(named):
    assert within(named["nothing learnt"], A_DAY_AND_A_HALF) >= 0.8
    assert 0.7 <= held(named["nothing learnt"]) <= 0.92


def test_the_solver_meets_the_published_slab():
    """Moisture ratio of a slab whose surface is dry at once (see `test_drying_published`): within 0.01."""
    count, hours = 1, 400
    thickness_m = np.full(count, 0.02)
    diffusivity = np.full(count, 5e-7)
    _, shares = histories.solve(
        thickness_m,
        np.full(count, 100.0),
        diffusivity,
        np.zeros(count),
        np.full((count, hours), 1e9),
        critical=np.full(count, 1.0),
        under=np.ones(count),
        warmer=np.ones((count, hours)),
        free_g_per_m3=np.full(count, 480_000.0),
    )
    for fourier, ratio in ((0.1, 0.64318), (0.5, 0.23605), (1, 0.06874), (1.5, 0.02002)):
        hour = round(fourier * 0.01**2 / 5e-7)
        assert shares[0, hour] == pytest.approx(ratio, abs=0.01)
