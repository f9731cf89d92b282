"""Published sizes of hands and feet.

- R. G. Snyder and others 1977, UM-HSRI-77-17, infant tables 566, 567, 586, 587, as published by
  NIST (AnthroKids) [src]: mean and SD of the bands to 24 months; exact.
- The interpolated table of sizes by age: computed from these; 0.1 mm in the mean, 1 mm in the band.
- NIST's printed figures for 2.0 to 3.5 years: hand 105 (7), foot 147 (11) mm [src]; 2 mm.
- Children of 3: foot 156 (8) boys, 153 (9) girls, PMC9139892, table 1 [src]; 3 mm about their mean.
- Growth near 4 months, 2.1 and 3.1 mm a month: computed; 0.2 mm.
"""

import pytest

from production.casts import limb_sizes

NINE_IN_TEN_SD = 1.645
MIDDLES = (1.5, 4.5, 7.5, 10.5, 14.0, 18.0, 22.0)


@pytest.mark.parametrize(
    ("expected", "limb", "mean_and_sd"),
    [
        (
            limb_sizes.expected_length,
            "hand",
            [(68, 6), (74, 6), (80, 5), (89, 6), (92, 6), (93, 6), (95, 6)],
        ),
        (
            limb_sizes.expected_breadth,
            "hand",
            [(37, 3), (41, 3), (42, 2), (45, 2), (46, 3), (46, 3), (47, 3)],
        ),
        (
            limb_sizes.expected_length,
            "foot",
            [(82, 5), (91, 6), (100, 7), (109, 6), (117, 8), (119, 10), (125, 9)],
        ),
        (
            limb_sizes.expected_breadth,
            "foot",
            [(36, 4), (40, 3), (42, 3), (47, 4), (49, 3), (50, 4), (52, 4)],
        ),
    ],
)
def test_band_middles_are_the_published_rows(expected, limb, mean_and_sd):
    for middle, (mean, sd) in zip(MIDDLES, mean_and_sd, strict=True):
        size = expected(limb, middle)
        assert size.mean_mm == pytest.approx(mean)
        assert size.high_mm - size.mean_mm == pytest.approx(NINE_IN_TEN_SD * sd)


@pytest.mark.parametrize(
    ("age_months", "hand", "foot"),
    [
        (84 / limb_sizes.DAYS_IN_A_MONTH, (70.5, 61, 80), (85.8, 77, 95)),
        (4, (73.0, 63, 83), (89.5, 80, 99)),
        (6, (77.0, 68, 86), (95.5, 85, 106)),
        (9, (84.5, 75, 94), (104.5, 94, 115)),
        (12, (90.3, 80, 100), (112.4, 101, 124)),
        (24, (96.7, 87, 107), (130.6, 116, 145)),
        (48, (114.2, 103, 125), (160.7, 146, 176)),
        (72, (127.1, 114, 140), (179.5, 162, 197)),
    ],
)
def test_sizes_by_age(age_months, hand, foot):
    for limb, (mean, low, high) in (("hand", hand), ("foot", foot)):
        size = limb_sizes.expected_length(limb, age_months)
        assert size.mean_mm == pytest.approx(mean, abs=0.1)
        assert size.low_mm == pytest.approx(low, abs=1)
        assert size.high_mm == pytest.approx(high, abs=1)


def test_two_to_three_and_a_half_years_as_printed():
    middle_months = (2.0 + 3.5) / 2 * 12
    assert limb_sizes.expected_length("hand", middle_months).mean_mm == pytest.approx(105, abs=2)
    assert limb_sizes.expected_length("foot", middle_months).mean_mm == pytest.approx(147, abs=2)


def test_feet_of_children_of_three_in_another_study():
    assert limb_sizes.expected_length("foot", 42).mean_mm == pytest.approx((156 + 153) / 2, abs=3)


def test_growth_near_four_months():
    for limb, mm_a_month in (("hand", 2.1), ("foot", 3.1)):
        grown = (
            limb_sizes.expected_length(limb, 4.5).mean_mm
            - limb_sizes.expected_length(limb, 3.5).mean_mm
        )
        assert grown == pytest.approx(mm_a_month, abs=0.2)
