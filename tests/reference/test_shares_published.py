"""Shares and their intervals against published figures and a library of another make.

R. G. Newcombe, "Two-sided confidence intervals for the single proportion", Statistics in Medicine 17 (1998)
857-872, table I, method 3 (score) [mem]: 81 of 263, 15 of 148, 0 of 20, 1 of 29. The beta distribution: SciPy.
"""

import pytest
from scipy import stats

from production.spoilage import rates

SCORE = {
    (81, 263): (0.2553, 0.3662),
    (15, 148): (0.0624, 0.1605),
    (0, 20): (0.0000, 0.1611),
    (1, 29): (0.0061, 0.1718),
}


@pytest.mark.parametrize("case", SCORE)
def test_the_score_interval_is_the_published_one(case):
    assert rates.wilson(*case) == pytest.approx(SCORE[case], abs=5e-5)


@pytest.mark.parametrize("a", [0.3, 1, 2.5, 10, 80])
@pytest.mark.parametrize("b", [0.5, 3, 9, 120])
def test_the_beta_distribution_is_scipys(a, b):
    for x in (0.001, 0.05, 0.3, 0.5, 0.8, 0.99):
        assert rates.beta_cdf(x, a, b) == pytest.approx(stats.beta.cdf(x, a, b), abs=1e-10)
    for share in (0.05, 0.5, 0.95):
        found = rates.beta_quantile(share, a, b)
        assert found == pytest.approx(stats.beta.ppf(share, a, b), abs=1e-9)
