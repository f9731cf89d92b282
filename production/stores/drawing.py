"""The weeks ahead of one material, drawn: what will lie on the shelf, the reserve, the deliveries."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

from production.stores.stock_status import Shelved
from studio import units

DAYS = 42

_WIDTH, _HEIGHT = 384.0, 120.0

_LEFT, _TOP = 8.0, 40.0

_WEEK = 7


@dataclass(frozen=True, slots=True)
class Mark:
    """Something at a day: where it stands, and its words."""

    x: float
    words: str


@dataclass(frozen=True, slots=True)
class WeeksDrawn:
    """The drawing in its own units (a box of 400 by 190), and the same in words."""

    line: str
    reserve_y: float
    floor_y: float
    weeks: tuple[Mark, ...]
    deliveries: tuple[Mark, ...]
    order: Mark | None
    words: str


def of_weeks(standing: Shelved) -> WeeksDrawn:
    levels = [float(standing.stock), *standing.levels[:DAYS]]
    top = max([*levels, float(standing.outlook.safety), 1.0])

    def x(day: int) -> float:
        return round(_LEFT + _WIDTH * min(day, DAYS) / DAYS, 1)

    def y(level: float) -> float:
        return round(_TOP + _HEIGHT * (1 - max(level, 0) / top), 1)

    # The shelf falls in the evening and fills in the morning: steps, not slopes.
    points = [f"{x(0)},{y(levels[0])}"]
    for day in range(1, len(levels)):
        points += [f"{x(day)},{y(levels[day - 1])}", f"{x(day)},{y(levels[day])}"]
    return WeeksDrawn(
        line=" ".join(points),
        reserve_y=y(float(standing.outlook.safety)),
        floor_y=y(0),
        weeks=tuple(
            Mark(x(day), units.day(standing.today + timedelta(days=day)))
            for day in range(0, DAYS, 2 * _WEEK)
        ),
        deliveries=tuple(
            Mark(
                x(_day(each.expected_on, standing.today)),
                f"+ {standing.material.say(each.to_come)}",
            )
            for each in standing.coming
            if _day(each.expected_on, standing.today) <= DAYS
        ),
        order=_order(standing, x),
        words=_words(standing),
    )


def _day(on: date, today: date) -> int:
    return max((on - today).days, 1)


def _order(standing: Shelved, x: Callable[[int], float]) -> Mark | None:
    order_by = standing.outlook.order_by
    if order_by is None or (order_by - standing.today).days > DAYS:
        return None
    return Mark(x((order_by - standing.today).days), f"order by {units.day(order_by)}")


def _words(standing: Shelved) -> str:
    say, outlook = standing.material.say, standing.outlook
    said = [f"{standing.stock_words} on the shelf today"]
    said += [
        f"{say(each.to_come)} expected {units.day(each.expected_on, standing.today)}"
        for each in standing.coming
    ]
    if outlook.runs_out_on:
        said.append(f"empty {units.day(outlook.runs_out_on, standing.today)} if nothing is ordered")
    said.append(f"{say(outlook.safety)} kept in reserve")
    return "; ".join(said) + "."
