"""The plan of all open jobs against what the bench can do (`facts` says what goes in and comes out).

    plan_quickly(jobs, bench, today)                 at once, in milliseconds
    plan_solved(jobs, bench, today)                  the best that the solver finds, with its bound, in seconds
    changes(plan)                                    what it moved against the plan before
    what_if(jobs, bench, today, days_off)            who would be late for a week off
    promise(jobs, bench, today, sitting)             the day to promise for a new sitting
    last_sitting_for(day, jobs, bench, today, sitting)

Give the plan before (`previous`) and what can stay where it was stays. Pure: no Django, no clock, no chance that is not
seeded: the same facts give the same plan.
"""

from production.plan.changes import Later, Moved, WhatIf, changes, what_if
from production.plan.facts import (
    Bench,
    Drying,
    Job,
    JobPlan,
    Kind,
    Piece,
    Pin,
    Plan,
    Score,
    Step,
)
from production.plan.making import plan_quickly, plan_solved
from production.plan.promising import (
    MOST_A_DAY,
    Coming,
    Promise,
    Slips,
    last_sitting_for,
    moved_to,
    promise,
)

__all__ = [
    "MOST_A_DAY",
    "Bench",
    "Coming",
    "Drying",
    "Job",
    "JobPlan",
    "Kind",
    "Later",
    "Moved",
    "Piece",
    "Pin",
    "Plan",
    "Promise",
    "Score",
    "Slips",
    "Step",
    "WhatIf",
    "changes",
    "last_sitting_for",
    "moved_to",
    "plan_quickly",
    "plan_solved",
    "promise",
    "what_if",
]
