"""Invented weeks of frames to be cut, the same for the same seed."""

from dataclasses import dataclass
from random import Random

from production.frames.cutting.bar_plan import Bar, Rail

RANGE = [(250, 200), (300, 250), (350, 250), (400, 300), (450, 350), (500, 400), (600, 400)]
SECTIONS = [(30, 8), (40, 10), (20, 6)]


@dataclass(frozen=True)
class Week:
    rails: list
    rack: list
    stock_mm: int
    loss_mm: int


def a_week(seed, most_frames=60):
    """Up to 60 frames of one moulding, most of the range, some to measure, some grain-matched."""
    dice = Random(seed)  # noqa: S311 - the same each time
    face, rebate = dice.choice(SECTIONS)
    rails = []
    for frame in range(dice.randint(1, most_frames)):
        made = dice.random() < 0.3
        width, height = (
            (dice.randint(150, 600), dice.randint(150, 500)) if made else dice.choice(RANGE)
        )
        matched = f"frame {frame}" if dice.random() < 0.15 else ""
        rails += [
            Rail(side + 2 * (face - rebate) + 3, f"frame {frame}", matched)
            for side in (width, height, width, height)
        ]
    rack = []
    for place in range(dice.randint(0, 12)):
        defects = ((100, 130),) if dice.random() < 0.2 else ()
        rack.append(Bar(dice.randint(250, 2200), f"R{place}", defects))
    return Week(rails, rack, dice.choice([2400, 3000]), dice.choice([3, 4, 5]))
