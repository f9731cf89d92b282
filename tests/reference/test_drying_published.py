"""Published rules of drying.

- Three equally spaced weighings: end mass and rate of an exponential; worked example 560.2, 505.0,
  471.6 g on days 1, 3, 5 -> 420.43 g, 0.2512 a day [computed]; half of the last digit.
- ISO 12570 [std]: constant mass, under 0.1 % in 24 hours, three weighings a day apart.
- 93 % of the free water gone: a maker's technical note on drying casts, azmanual.top 574710 [src].
- About a week: common practice, no source [trade].
- The curves that `tests/production/test_drying.py` uses: slab series at five Fourier numbers and
  the two-stage time of 8.106 days [mem, textbook]; half of the last digit. No measured drying
  curve is published that we know of.
"""

from datetime import timedelta

import pytest

from production import plaster
from production.drying.by_weight import Weighed, fit_exponential, judge_by_weight
from production.drying.forecast import prior_days
from tests import curves


def on_days(*day_and_mass):
    return [Weighed(curves.RACKED_AT + timedelta(days=day), mass) for day, mass in day_and_mass]


def test_three_equally_spaced_weighings():
    found = fit_exponential(on_days((1, 560.2), (3, 505.0), (5, 471.6)))
    assert found is not None
    assert found.end_g == pytest.approx(420.43, abs=0.005)
    assert found.rate_per_day == pytest.approx(0.2512, abs=0.00005)


@pytest.mark.parametrize(
    ("lost_percent", "dry"), [(0.0, True), (0.09, True), (0.11, False), (0.5, False)]
)
def test_constant_mass_is_under_a_tenth_of_a_percent_a_day(lost_percent, dry):
    masses = [(day, 2000 * (1 - lost_percent / 100) ** day) for day in range(3)]
    judged = judge_by_weight(on_days(*masses), fresh_g=None, consistency=70, scale_g=0.1)
    assert judged.dry is dry
    assert judged.loss_percent_per_day == pytest.approx(lost_percent)


@pytest.mark.parametrize(("gone", "dry"), [(0.90, False), (0.92, False), (0.99, True)])
def test_ninety_three_percent_of_the_free_water_is_gone(gone, dry):
    """A stiff mix has so little free water that this rule binds before the half percent does."""
    mix = plaster.mix(10_000, 20)
    mass_g = mix.fresh_g - gone * mix.free_water_g
    assert mass_g - mix.dry_g < 0.005 * mix.dry_g
    judged = judge_by_weight(
        on_days((0, mass_g), (1, mass_g)), fresh_g=mix.fresh_g, consistency=20, scale_g=0.1
    )
    assert judged.dry is dry


def test_an_ordinary_piece_in_an_ordinary_room_dries_in_about_a_week():
    assert prior_days() == pytest.approx(7)


@pytest.mark.parametrize(
    ("fourier", "ratio"),
    [(0.05, 0.74769), (0.1, 0.64318), (0.5, 0.23605), (1, 0.06874), (1.5, 0.02002)],
)
def test_the_slab_that_curves_are_drawn_from(fourier, ratio):
    assert curves.moisture_ratio(fourier) == pytest.approx(ratio, abs=0.0000051)


def test_the_two_stages_that_curves_are_drawn_from():
    days = curves.two_stage_days(138.3, 41.5, 33.3, 0.64)
    assert days == pytest.approx(8.106, abs=0.0005)
    curve = curves.two_stages(319.2, 138.3, 41.5, 33.3)
    assert curve(0) == pytest.approx(457.5)
    assert curve(days) - 319.2 == pytest.approx(0.64)


def test_two_stage_weighings_pass_about_when_the_water_is_gone():
    curve = curves.two_stages(319.2, 138.3, 41.5, 33.3)
    damp, gone = (curves.weighings(curve, range(days + 1), 1.0) for days in (6, 11))
    assert not judge_by_weight(damp, fresh_g=457.5, consistency=70).dry
    assert judge_by_weight(gone, fresh_g=457.5, consistency=70).dry
