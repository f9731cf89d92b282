"""How much of the spread has to be kept for days that stand in the plan: how seldom the shelf is empty."""

from unittest.mock import patch

from production.stores import reorder
from tests.production.stores import year

CHOSEN_ON, JUDGED_ON = range(100, 140), range(1000, 1008)
LEVELS = (90, 95, 98, 99)
TRIED = (0.1, 0.2, 0.3)


def lines():
    """Invented years, one lot to choose by, another to judge what was chosen."""
    yield ""
    yield f"The spread kept for planned days, on the years {CHOSEN_ON.start} to {CHOSEN_ON.stop - 1}"
    worlds = [year.world(seed) for seed in CHOSEN_ON]
    for share in TRIED:
        for level in LEVELS:
            yield f"  {share:.1f} at {level} %  {_told(worlds, share, level)}"
    share = reorder.BOOKED_WORK_SD_SHARE
    yield f"What was chosen, on the years {JUDGED_ON.start} to {JUDGED_ON.stop - 1}"
    worlds = [year.world(seed) for seed in JUDGED_ON]
    for level in LEVELS:
        yield f"  {share:.1f} at {level} %  {_told(worlds, share, level)}"


def _told(worlds, share, level):
    short, deliveries, worst, tied_up, by_rule = 0, 0, 0.0, 0.0, 0.0
    with patch.object(reorder, "FORESEEN_SD_SHARE", share):
        for of in year.SHELF:
            years = [
                year.run(of, made, year.ours(of, made, service_percent=level)) for made in worlds
            ]
            its_short = sum(one.short_deliveries for one in years)
            its_deliveries = sum(one.deliveries for one in years)
            short, deliveries = short + its_short, deliveries + its_deliveries
            worst = max(worst, 100 * its_short / its_deliveries)
            tied_up += sum(one.tied_up_minor for one in years)
            by_rule += sum(
                year.run(of, made, year.month_in_hand(of, made)).tied_up_minor for made in worlds
            )
    return (
        f"empty before {100 * short / deliveries:4.2f} % of deliveries, the worst material {worst:4.2f} %"
        f"; {tied_up / by_rule:.2f} of the money that the fixed rule ties up"
    )
