"""What the planned work will take of each material, day by day. Pure: tasks in, amounts out.

A print takes its clay on the day of its sitting and gives most of it back at the demoulding; a pour
takes what its pieces need; a frame and a way home take what they usually do. A frame begun has taken
its share already; one whose rails are not cut takes what it will be cut of, on its day at the latest.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from types import MappingProxyType

from production import week


@dataclass(frozen=True, slots=True)
class Taking:
    """How a material is used up: at which moment, how much each time, and how much comes back.

    What is cut for each frame goes by its own number, at the moment "cut".
    """

    moment: str
    each: int = 0
    returns_percent: int = 0
    number: int = 0


@dataclass(frozen=True, slots=True)
class Work:
    """How much of each kind of work is ahead, by day from today; plaster in grams, the rest in times.

    `cuts`: of what is cut for the frames, by the material's number, in its base unit.
    """

    prints: Counter[int] = field(default_factory=Counter)
    demoulded: Counter[int] = field(default_factory=Counter)
    plaster_g: dict[int, float] = field(default_factory=dict)
    frames: Counter[int] = field(default_factory=Counter)
    ways_home: Counter[int] = field(default_factory=Counter)
    cuts: defaultdict[int, Counter[int]] = field(default_factory=lambda: defaultdict(Counter))


def work_ahead(
    jobs: Iterable[week.JobFacts],
    habits: week.Habits,
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


def planned(work: Work, taking: Taking) -> Mapping[int, float]:
    """What that work takes of one material, by day; below zero where more comes back than goes."""
    if taking.moment == "pour":
        return work.plaster_g
    if taking.moment == "cut":
        return work.cuts[taking.number]
    if taking.moment == "print":
        back = taking.each * taking.returns_percent // 100
        days = {*work.prints, *work.demoulded}
        return {day: work.prints[day] * taking.each - work.demoulded[day] * back for day in days}
    times = {"frame": work.frames, "glazed": work.frames, "home": work.ways_home}
    return {day: count * taking.each for day, count in times.get(taking.moment, {}).items()}


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
