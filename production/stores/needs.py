"""Needs of one material by day for planned work. Pure.

A print uses clay on the day of its sitting, most of which returns at demoulding; a pour uses the plaster of its
pieces; a frame and a hand-over use their usual quantities.
"""

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Consumption:
    """How a material is used up: the moment, the quantity each time, and the percentage returned.

    At the moment "cut" the quantities come frame by frame, by `number`, the material's primary key.
    """

    moment: str
    each: int = 0
    returns_percent: int = 0
    number: int = 0


@dataclass(frozen=True, slots=True)
class Work:
    """Planned work by day from today: numbers of each kind, plaster in grams.

    `cuts`: base units cut for frames, by material (primary key).
    """

    prints: Counter[int] = field(default_factory=Counter)
    demoulded: Counter[int] = field(default_factory=Counter)
    plaster_g: dict[int, float] = field(default_factory=dict)
    frames: Counter[int] = field(default_factory=Counter)
    ways_home: Counter[int] = field(default_factory=Counter)
    cuts: defaultdict[int, Counter[int]] = field(default_factory=lambda: defaultdict(Counter))


def planned_needs(work: Work, consumption: Consumption) -> Mapping[int, float]:
    """Return the need of one material by day in base units; negative if more returns than is used."""
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
