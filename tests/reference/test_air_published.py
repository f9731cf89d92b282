"""Moist air and evaporation.

- psychrolib's own test-suite (ASHRAE Fundamentals 2017 ch. 1 table 3) [src]: saturation pressure, wet bulb
  and dew point at 20 °C/50 %, 25/50 and 15/70; half of the last digit.
- WMO-No. 8 annex 4.B [src]: e = 6.112·exp(17.62t/(243.12 + t)) hPa, within 0.3 %.
- ASHRAE Applications, evaporation at a wet-bulb surface in 0.1 m/s [mem]; half of the last digit.
"""

import math

import pytest

from production.drying import air


@pytest.mark.parametrize(
    ("celsius", "percent", "saturated_pa", "wet_bulb_c"),
    [(20, 50, 2338.8, 13.78), (25, 50, 3169.2, 17.89), (15, 70, 1705.4, 11.92)],
)
def test_moist_air(celsius, percent, saturated_pa, wet_bulb_c):
    room = air.Room(celsius, percent)
    assert air.saturation_pa(celsius) == pytest.approx(saturated_pa, abs=0.051)
    assert air.wet_bulb_c(room) == pytest.approx(wet_bulb_c, abs=0.0051)
    assert air.vapour_pa(room) == pytest.approx(saturated_pa * percent / 100, abs=0.05)


@pytest.mark.parametrize("celsius", range(0, 41, 5))
def test_saturation_meets_the_formula_of_the_weather_service(celsius):
    magnus_pa = 611.2 * math.exp(17.62 * celsius / (243.12 + celsius))
    assert air.saturation_pa(celsius) == pytest.approx(magnus_pa, rel=0.003)


@pytest.mark.parametrize(
    ("celsius", "percent", "g_per_m2_h"),
    [(20, 50, 57.8), (20, 80, 21.6), (15, 70, 28.6), (22, 40, 75.3)],
)
def test_what_the_air_takes(celsius, percent, g_per_m2_h):
    found = air.evaporation_g_per_m2_h(air.Room(celsius, percent))
    assert found == pytest.approx(g_per_m2_h, abs=0.051)


def test_wet_air_takes_nothing_and_a_draught_takes_more():
    assert air.evaporation_g_per_m2_h(air.Room(20, 100)) == pytest.approx(0, abs=0.1)
    still, blown = (air.evaporation_g_per_m2_h(air.Room(20, 50, v)) for v in (0.1, 1.0))
    assert blown > 1.5 * still


@pytest.mark.parametrize(
    "facts", [(-6, 50), (61, 50), (20, 4), (20, 101), (20, 50, 6), (20, 50, -1)]
)
def test_air_that_cannot_be_is_refused(facts):
    with pytest.raises(ValueError, match=r"drying room|humidity"):
        air.Room(*facts)
