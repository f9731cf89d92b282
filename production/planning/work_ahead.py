"""The work that is ahead of the bench, by day: jobs in, amounts out. Pure.

A frame begun has taken its share of the stores already; one whose rails are not cut takes what it will be
cut of, on its day at the latest.
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
    """The work of these jobs, what is late counted for today.

    `cuts`: what each frame that is not cut will be cut of, by the job's reference and the material.
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
