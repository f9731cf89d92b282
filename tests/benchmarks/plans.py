"""How long planning takes, and how it grows with the open jobs."""

from statistics import median
from time import perf_counter, process_time

from production.planning.solver.planner import plan_quickly, plan_solved
from tests.planning.weeks import TODAY, week

# Open jobs → how many benches of that size.
BENCHES = {15: 3, 30: 3, 60: 5, 125: 1, 250: 1, 500: 1}
GOALS_S = {60: 2, 500: 20}


def measured():
    for jobs, benches in BENCHES.items():
        weeks = [week(seed, jobs) for seed in range(benches)]
        quick, quick_s, _ = _timed(plan_quickly, weeks)
        solved, solved_s, cpu_s = _timed(plan_solved, weeks)
        yield {
            "jobs": jobs,
            "quick_s": quick_s,
            "solved_s": solved_s,
            "solved_cpu_s": cpu_s,
            "quick_late_days": sum(plan.score.late_days for plan in quick),
            "solved_late_days": sum(plan.score.late_days for plan in solved),
            "bound_late_days": sum(plan.bound_late_days for plan in solved),
            "goal_s": GOALS_S.get(jobs),
        }


def _timed(planned, weeks):
    """The plans, and of each the seconds by the clock and those of the processor."""
    plans, seconds, cpu_seconds = [], [], []
    for jobs, bench in weeks:
        began, cpu_began = perf_counter(), process_time()
        plans.append(planned(jobs, bench, TODAY))
        seconds.append(perf_counter() - began)
        cpu_seconds.append(process_time() - cpu_began)
    return plans, seconds, cpu_seconds


def lines():
    """The lines of the table; growth against the row before, 2 where it is as the jobs."""
    yield ""
    yield "A plan of all open jobs; median of the benches, growth against the row before"
    yield f"  {'jobs':>5}{'quick ms':>10}{'growth':>8}{'solved s':>10}{'growth':>8}{'most s':>8}{'cpu s':>8}   goal     late days: quick, solved, proven least"
    before = None
    for each in measured():
        quick, solved = median(each["quick_s"]), median(each["solved_s"])
        growth = (
            ("", "")
            if before is None
            else (f"{quick / before[0]:.1f}", f"{solved / before[1]:.1f}")
        )
        goal = f"< {each['goal_s']} s" if each["goal_s"] else ""
        yield (
            f"  {each['jobs']:5}{1000 * quick:10.0f}{growth[0]:>8}{solved:10.2f}{growth[1]:>8}"
            f"{max(each['solved_s']):8.2f}{max(each['solved_cpu_s']):8.2f}   {goal:9}{each['quick_late_days']}, "
            f"{each['solved_late_days']}, {each['bound_late_days']}"
        )
        before = quick, solved
