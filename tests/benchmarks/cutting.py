"""The week's cutting: how long it takes, and how often it is proven to be the best."""

import statistics
from time import process_time

from production.frames.cutting.cut_bars import cut_bars
from tests.benchmarks.measure import p95
from tests.weeks import a_week

WEEKS = 500
GOAL_S = 1.0


def lines():
    """500 invented weeks of up to 60 frames, the rack's offcuts, defects and matched sides included."""
    seconds, unproven, rests, shares = [], [], 0, []
    for seed in range(WEEKS):
        week = a_week(seed)
        began = process_time()
        plan = cut_bars(week.rails, stock_mm=week.stock_mm, rack=week.rack, loss_mm=week.loss_mm)
        seconds.append(process_time() - began)
        if not plan.is_proven:
            unproven.append(f"{seed} ({plan.new_bars} bars, proven {plan.proof.least})")
        rests += plan.offcuts_proven
        shares.append(plan.useful_mm / plan.useful_most_mm if plan.useful_most_mm else 1.0)
    yield ""
    yield f"The rails of {WEEKS} weeks of up to 60 frames, offcuts of the rack included"
    yield f"  fewest new bars, proven           {WEEKS - len(unproven):5} of {WEEKS}   goal {WEEKS}"
    for week in unproven:
        yield f"    not proven: week {week}"
    yield f"  most useful offcuts, proven too   {rests:5} of {WEEKS}"
    yield f"  useful offcuts of a proven bound  {100 * statistics.median(shares):5.1f} % median"
    yield (
        f"  processor seconds a week          {statistics.median(seconds):5.2f} median,"
        f" {p95(seconds):.2f} p95, {max(seconds):.2f} most   goal < {GOAL_S:g} median"
    )
