"""What an amount of planned work takes of one material, day by day. Pure.

A print takes its clay on the day of its sitting and gives most of it back at the demoulding; a pour
takes what its pieces need; a frame and a way home take what they usually do.
"""

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Consumption:
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


def planned_needs(work: Work, consumption: Consumption) -> Mapping[int, float]:
    """What that work takes of one material, by day; below zero where more comes back than goes."""
    if consumption.moment == "pour":
        return work.plaster_g
    if consumption.moment == "cut":
        return work.cuts[consumption.number]
    if consumption.moment == "print":
        back = consumption.each * consumption.returns_percent // 100
        days = {*work.prints, *work.demoulded}
        return {
            day: work.prints[day] * consumption.each - work.demoulded[day] * back for day in days
        }
    times = {"frame": work.frames, "glazed": work.frames, "home": work.ways_home}
    return {
        day: count * consumption.each for day, count in times.get(consumption.moment, {}).items()
    }
