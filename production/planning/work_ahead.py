"""Stock-relevant work ahead of the bench by day: planned jobs in, amounts out. Pure.

A started frame has already used its materials; an uncut one uses them on its planned day.
"""

from collections.abc import Iterable, Mapping
from datetime import date
from types import MappingProxyType

from production.schedule import week
from production.schedule.facts import Habits, JobFacts
from production.stores.needs import Work


def work_ahead(
    jobs: Iterable[JobFacts],
    habits: Habits,
    today: date,
    cuts: Mapping[str, Mapping[int, int]] = MappingProxyType({}),
) -> Work:
    """Return the work of these jobs by day from `today`; late work counts for today.

    `cuts`: base units that each uncut frame will use, by job reference and material.
    """
    work = Work()
    for job in jobs:
        for piece in job.pieces:
            if piece.taken_at and not piece.is_taken and not piece.poured_at:
                work.prints[_day(piece.taken_at.date(), today)] += 1
        for task in week.plan([job], habits, today):
            day = _day(task.planned_on, today)
            _note(work, task, day)
            if task.kind == "frame":
                for number, amount in cuts.get(job.reference, {}).items():
                    work.cuts[number][day] += amount
    return work


def _note(work: Work, task: week.Task, day: int) -> None:
    if task.kind == "pour" and task.piece:
        work.plaster_g[day] = work.plaster_g.get(day, 0) + task.piece.plaster_g
    elif task.kind == "demould":
        work.demoulded[day] += 1
    elif task.kind == "frame" and not task.job.framing_since:
        work.frames[day] += 1
    elif task.kind == "hand_over":
        work.ways_home[day] += 1


def _day(on: date, today: date) -> int:
    return max((on - today).days, 0)
