"""Generated weeks against the optimum that another solver proved."""

from production.planning.solver.planner import plan_quickly, plan_solved
from tests.planning.checker import breaches, late_days
from tests.planning.proof import fewest_late_days
from tests.planning.weeks import TODAY, week
from tests.proofs.whole import IS_WHOLE

# Weeks of so many jobs; most are small: the proof, not the plan, takes the time.
ALL_WEEKS = {5: 60, 8: 52, 12: 44, 20: 24, 30: 10, 45: 5, 60: 5}
WEEKS = ALL_WEEKS if IS_WHOLE else {5: 12, 8: 10, 12: 9, 20: 5, 30: 1}


def test_weeks_are_planned_as_well_as_they_can_be():
    """Nothing broken, as late as the proven optimum in 95 %, no bound above it; the quick plan within a tenth."""
    judged = [_judge(jobs, seed) for jobs, weeks in WEEKS.items() for seed in range(weeks)]
    assert sum(solved == least for _, solved, _, least in judged) >= 0.95 * len(judged)
    proven = [each for each in judged if each[3] is not None]
    assert all(bound <= least <= solved for _, solved, bound, least in proven)
    gaps = [(quick - least) / max(least, 1) for quick, _, _, least in proven]
    assert sum(gaps) / len(gaps) <= 0.10
    # The weeks are not all easy: the quick plan is beaten in a good part of them.
    beaten = sum(quick > solved for quick, solved, _, _ in judged)
    assert beaten >= (20 if IS_WHOLE else 1)


def _judge(jobs, seed):
    """Late days of the quick plan, of the solved one, its own bound, and the proven optimum (None: not proven)."""
    these, bench = week(seed, jobs)
    quick, solved = plan_quickly(these, bench, TODAY), plan_solved(these, bench, TODAY)
    for plan in (quick, solved):
        assert breaches(these, bench, plan, TODAY) == []
        assert plan.score.late_days == late_days(these, plan)
        assert plan.score.broken == plan.score.lost_prints == 0
    least = fewest_late_days(these, bench, TODAY, at_most=solved.score.late_days, seconds=40)
    return quick.score.late_days, solved.score.late_days, solved.bound_late_days, least
