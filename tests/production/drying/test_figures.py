"""What the forecast is made of, each against a figure from elsewhere.

- Roots of x·tan x = L: Crank, The Mathematics of Diffusion, table 4.2 [mem]; half of the last digit.
- Quantiles of the normal distribution, 1.2816 for one in ten, and Student's t by scipy.
- A scale that reads to its mark errs evenly between two marks: a variance of a third of its error squared.
"""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from scipy.stats import t as students_t

from production import plaster
from production.drying import curves as law
from production.drying import forecast
from production.drying.air import Room
from production.drying.by_weight import Weighed, fit_exponential
from production.drying.judgement import judge_dryness
from production.drying.warnings import room_warnings
from tests import curves

AT = curves.RACKED_AT

MIX = plaster.mix(288, 70)

PRIOR = forecast.Prior(7.0, 0.35, MIX.fresh_g, 5.0, plaster.dry_share(70), 0.004)


def days_of(found):
    ends = (found.early_at, found.likely_at, found.late_at)
    return [(at - AT) / timedelta(days=1) for at in ends]


def foreseen(curve, days, *, mark_g=0.1, prior=PRIOR, **how):
    done = curves.weighings(curve, days, mark_g)
    return forecast.forecast_drying(done, demoulded_at=AT, prior=prior, scale_g=0.5, **how)


@pytest.mark.parametrize(
    ("biot", "roots"),
    [
        (0.8, [0.7910, 3.3744, 6.4074, 9.5087]),
        (1, [0.8603, 3.4256, 6.4373, 9.5293]),
        (5, [1.3138, 4.0336, 6.9096, 9.8928]),
    ],
)
def test_the_slabs_have_the_published_roots(biot, roots):
    assert law._slab_roots(biot)[:4] == pytest.approx(roots, abs=0.00005)


def test_every_curve_ends_on_its_exponential():
    family = law.curve_family()
    last = (family.shares.shape[1] - 1) * law.PROGRESS_STEP
    assert family.shares[:, -1] == pytest.approx(np.exp(family.log_scale - last), rel=1e-9)


def test_the_family_goes_step_by_step_from_an_early_turn_to_a_late_one():
    """The longer the rate holds and the sharper it turns, the later and the steeper the end."""
    turns, shares = len(law.TURNS), len(law.CRITICAL_SHARES)
    ends = law.curve_family().log_scale[-turns * shares :].reshape(shares, turns)
    assert (np.diff(ends, axis=0) > 0).all()
    assert (np.diff(ends, axis=1) < 0).all()


def test_one_in_ten_is_earlier_and_one_in_ten_later():
    early, likely, late = days_of(
        forecast.forecast_drying([], demoulded_at=AT, prior=PRIOR, scale_g=1)
    )
    assert (early, likely, late) == pytest.approx(
        (7 * np.exp(-1.2816 * 0.35), 7, 7 * np.exp(1.2816 * 0.35)), rel=0.0001
    )


def test_far_from_what_is_known_the_days_are_believed_as_by_students_t():
    days = np.array([[3.0, 7.0, 20.0, 60.0]])
    believed = forecast._log_prior(days, PRIOR)[0]
    expected = students_t.logpdf(np.log(days[0] / 7) / 0.35, 5)
    assert believed - believed[1] == pytest.approx(expected - expected[1])


@pytest.mark.parametrize("days", [4.0, 7.0, 20.0])
def test_the_ordinary_rate_loses_a_thousandth_on_the_last_day(days):
    """An exponential of 30 g of water in 70 g of plaster: dry where a day takes 0.07 g and 0.35 g are left."""
    rate = forecast._rate_of(days)
    last_day_g = 30 * (np.exp(-rate * (days - 1)) - np.exp(-rate * days))
    left_g = 30 * np.exp(-rate * days)
    assert max(last_day_g / 0.07, left_g / 0.35) == pytest.approx(1, abs=1e-6)


def test_a_wetter_mix_takes_longer_though_not_by_as_much():
    assert 1.2 * 7 < forecast.prior_days(free_g_per_ml=2 * 0.48) < 1.8 * 7


def test_the_likely_day_lies_in_the_middle_and_the_doubt_about_the_water_shrinks():
    curve = curves.slab(MIX.dry_g, MIX.free_water_g, 4)
    doubts = []
    for last_day in (2, 4, 6):
        found = foreseen(curve, range(last_day + 1))
        early, likely, late = days_of(found)
        assert 0.4 < (late - likely) / (likely - early) < 2.5
        doubts.append(found.excess_sd_g)
    assert 10 > doubts[0] > doubts[1] > doubts[2] > 0.1


def test_the_interval_holds_eight_in_ten():
    """The day known to within 1 as a standard deviation, and the last water to 0.13 more."""
    days = np.arange(3, 13, 0.01)[None, :]
    early, likely, late = forecast._interval(days, np.exp(-((days - 8) ** 2) / 2), 8.0)
    assert (likely - early, late - likely) == pytest.approx(
        (1.2816 * np.hypot(1, 0.13),) * 2, abs=0.01
    )
    assert likely == pytest.approx(8, abs=0.1)


@pytest.mark.parametrize("times", [0.2, 5])
def test_a_cast_five_times_as_heavy_on_a_scale_five_times_as_coarse_is_dry_on_the_same_day(times):
    def days(times):
        curve = curves.slab(times * MIX.dry_g, times * MIX.free_water_g, 4)
        prior = replace(PRIOR, fresh_g=times * PRIOR.fresh_g, fresh_sd_g=times * PRIOR.fresh_sd_g)
        done = curves.weighings(curve, range(4), 0.1 * times)
        how = {"demoulded_at": AT, "prior": prior, "scale_g": 0.5 * times}
        return days_of(forecast.forecast_drying(done, **how))

    assert days(times) == pytest.approx(days(1), rel=1e-6)


def judged(curve, last_day, **facts):
    how = {"fresh_g": MIX.fresh_g, "consistency": 70, "scale_g": 0.1, **facts}
    return judge_dryness(curves.weighings(curve, range(last_day + 1), 0.1), demoulded_at=AT, **how)


def first_dry_day(curve, **facts):
    return next(day for day in range(60) if judged(curve, day, **facts).dry)


@pytest.mark.parametrize(
    ("days_per_fourier", "waits", "waits_unknown"),
    [(2, 0, 1), (3, 0, 1), (4, 0, 0), (5, 1, 1), (8, 0, 1), (12, 0, 0)],
)
def test_a_cast_is_never_dry_before_the_truth_and_waits_a_day_at_most(
    days_per_fourier, waits, waits_unknown
):
    """Slabs of one to three weeks, with the mix known, and never weighed fresh."""
    curve = curves.slab(MIX.dry_g, MIX.free_water_g, days_per_fourier)
    truth = next(
        day
        for day in range(1, 60)
        if curve(day) - MIX.dry_g <= 0.005 * MIX.dry_g
        and curve(day - 1) - curve(day) < 0.001 * curve(day)
    )
    assert first_dry_day(curve) == truth + waits
    assert first_dry_day(curve, fresh_g=None) == truth + waits_unknown


@pytest.mark.parametrize("first", [3, 5])
@pytest.mark.parametrize(("days_per_fourier", "truth"), [(3, 8), (4, 10), (6, 13), (8, 16)])
def test_a_cast_first_weighed_after_days_is_let_go_as_well(days_per_fourier, truth, first):
    """Its fresh weight is not known: the heaviest weighing says little of it."""
    curve = curves.slab(MIX.dry_g, MIX.free_water_g, days_per_fourier)
    done = curves.weighings(curve, range(first, 30), 0.1)
    how = {"demoulded_at": AT, "fresh_g": None, "consistency": 70, "scale_g": 0.1}
    days = range(first, 30)
    dry = next(day for day in days if judge_dryness(done[: day - first + 1], **how).dry)
    assert truth <= dry <= truth + 1


def test_the_room_in_which_nothing_ever_dries():
    """At 20 °C the air takes 6.3 g per m² and hour at 94 %, 5.2 at 95 %."""
    assert room_warnings(Room(20, 94)) == []
    assert "nothing will ever be dry" in room_warnings(Room(20, 95))[0]


def test_three_weighings_whose_losses_differ_by_the_mark_of_the_scale_show_a_curve():
    done = [Weighed(AT + timedelta(days=day), mass) for day, mass in ((0, 500), (1, 497), (2, 495))]
    found = fit_exponential(done, scale_g=1)
    assert found.end_g == pytest.approx(491)
    assert found.rate_per_day == pytest.approx(0.4055, abs=0.0001)
