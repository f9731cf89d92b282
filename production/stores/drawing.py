"""Drawing of the stock forecast of one material: stock, safety stock and deliveries of six weeks."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

from production.stores.stock_status import StockStatus
from studio import units

DAYS = 42

_WIDTH, _HEIGHT = 384.0, 120.0

_LEFT, _TOP = 8.0, 40.0

_WEEK = 7


@dataclass(frozen=True, slots=True)
class Mark:
    """A label at a day: its x and its text."""

    x: float
    words: str


@dataclass(frozen=True, slots=True)
class StockForecastDrawing:
    """Coordinates in a box of 400 × 190, and the same in words."""

    line: str
    reserve_y: float
    floor_y: float
    weeks: tuple[Mark, ...]
    deliveries: tuple[Mark, ...]
    order: Mark | None
    words: str


def draw_stock_forecast(status: StockStatus) -> StockForecastDrawing:
    """Draw the stock forecast of one material."""
    levels = [float(status.stock), *status.levels[:DAYS]]
    top = max([*levels, float(status.outlook.safety), 1.0])

    def x(day: int) -> float:
        return round(_LEFT + _WIDTH * min(day, DAYS) / DAYS, 1)

    def y(level: float) -> float:
        return round(_TOP + _HEIGHT * (1 - max(level, 0) / top), 1)

    # The shelf falls in the evening and fills in the morning: steps, not slopes.
    points = [f"{x(0)},{y(levels[0])}"]
    for day in range(1, len(levels)):
        points += [f"{x(day)},{y(levels[day - 1])}", f"{x(day)},{y(levels[day])}"]
    return StockForecastDrawing(
        line=" ".join(points),
        reserve_y=y(float(status.outlook.safety)),
        floor_y=y(0),
        weeks=tuple(
            Mark(x(day), units.day(status.today + timedelta(days=day)))
            for day in range(0, DAYS, 2 * _WEEK)
        ),
        deliveries=tuple(
            Mark(
                x(_day(each.expected_on, status.today)),
                f"+ {status.material.say(each.to_come)}",
            )
            for each in status.coming
            if _day(each.expected_on, status.today) <= DAYS
        ),
        order=_order(status, x),
        words=_words(status),
    )


def _day(on: date, today: date) -> int:
    return max((on - today).days, 1)


def _order(status: StockStatus, x: Callable[[int], float]) -> Mark | None:
    order_by = status.outlook.order_by
    if order_by is None or (order_by - status.today).days > DAYS:
        return None
    return Mark(x((order_by - status.today).days), f"order by {units.day(order_by)}")


def _words(status: StockStatus) -> str:
    say, outlook = status.material.say, status.outlook
    said = [f"{status.stock_words} on the shelf today"]
    said += [
        f"{say(each.to_come)} expected {units.day(each.expected_on, status.today)}"
        for each in status.coming
    ]
    if outlook.runs_out_on:
        said.append(f"empty {units.day(outlook.runs_out_on, status.today)} if nothing is ordered")
    said.append(f"{say(outlook.safety)} kept in reserve")
    return "; ".join(said) + "."
