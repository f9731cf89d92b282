"""Published rules of ages, months and weeks.

- AAP, "Age terminology during the perinatal period", Pediatrics 2004;114:1362-4 [src]: due date =
  birth + 280 days - gestation; corrected age of a child born before 37 weeks counts from there.
- dateutil's documentation and behaviour [src]: months are added to the birth date and clip.
- ISO 8601 weeks [std]: days round the turn of the year.
- Twelve weeks and about four months: common practice, no source [trade].
Exact, no tolerance.
"""

from datetime import date, timedelta

import pytest

from bookings.sittings import ages
from studio import units


def test_corrected_age_of_a_child_born_at_32_weeks_and_3_days():
    born_on = date(2026, 3, 31)
    due_on = born_on + timedelta(days=280 - (32 * 7 + 3))
    assert due_on == date(2026, 5, 23)
    on = date(2026, 9, 1)
    assert (on - born_on).days == 154
    assert ages.corrected_days(born_on, due_on, on) == 101


@pytest.mark.parametrize(("gestation_days", "early"), [(36 * 7 + 6, True), (37 * 7, False)])
def test_born_early_is_before_37_completed_weeks(gestation_days, early):
    born_on = date(2026, 3, 31)
    due_on = born_on + timedelta(days=280 - gestation_days)
    assert ages.born_early(born_on, due_on) is early


def test_months_are_added_to_the_birth_date_and_never_stepped():
    born_on = date(2024, 1, 31)
    assert ages.months_after(born_on, 2) == date(2024, 3, 31)
    assert ages.months_after(ages.months_after(born_on, 1), 1) == date(2024, 3, 29)
    assert ages.months_after(date(2025, 10, 31), 4) == date(2026, 2, 28)
    assert ages.months_after(date(2024, 2, 29), 12) == date(2025, 2, 28)


def test_the_gate_of_twelve_weeks_is_84_days_from_birth():
    assert ages.earliest_sitting_on(date(2026, 3, 31), 12) == date(2026, 6, 23)
    assert ages.best_sitting_on(date(2025, 10, 31), 4) == date(2026, 2, 28)


@pytest.mark.parametrize(
    ("on", "week"),
    [
        (date(2024, 12, 30), "2025-W01"),
        (date(2021, 1, 3), "2020-W53"),
        (date(2027, 1, 3), "2026-W53"),
    ],
)
def test_iso_weeks_at_the_turn_of_the_year(on, week):
    assert units.week_of(on) == week
    assert on in units.parse_week(week)
