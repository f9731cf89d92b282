"""Simulated years of a busy unit (`tests/planning/year.py`): how many promises are kept, whatever shape the truth has.

No published source: the goal, 88 to 96 %, is the project's own. Ten years were judged that nobody had looked at before
(seeds 30 to 34, both shapes): 93.3 % of 1,608 promises were kept; in single years, of some 160 promises each, 85.4 to
98.1 %. Three of the seeds are played by the proof, one of them in every run of the tests. Before promises foresaw the sittings that others will book, a bench
booked to 85 % of the most it can do (four jobs a week, seeds 10 to 12) kept 88 % of them all, 82.5 % in the worst year.
"""

from random import Random

import pytest

from tests.planning.year import Year, as_forecast, otherwise_shaped
from tests.proofs.whole import IS_WHOLE

SEEDS = (30, 31, 32) if IS_WHOLE else (30,)


@pytest.mark.parametrize("dries", [as_forecast, otherwise_shaped])
def test_promises_are_kept(dries):
    years = [Year(Random(seed), dries).run(364) for seed in SEEDS]  # noqa: S311 - to be had again
    homes = [home for year in years for home in year.homes]
    assert len(homes) > 140 * len(SEEDS)
    kept = sum(home <= promised for promised, home in homes)
    if IS_WHOLE:  # one year alone lies between 85 and 98 %
        assert 0.88 <= kept / len(homes) <= 0.96
    assert min(year.kept for year in years) >= 0.85
