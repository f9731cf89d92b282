"""The weekly sheet of the bench as a PDF."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.utils import timezone

from production.bench import jobs, wording
from production.schedule import week
from production.stores.stock_status import stock_statuses, to_order
from production.weekly_sheet import tick_off
from studio import units
from studio.accounts.models import Unit
from studio.web import paper

STEP_WORDS = (
    ("mounted", "mounted"),
    ("closed", "glazed/open"),
    ("backed", "backed"),
    ("sealed", "sealed"),
    ("checked", "checked"),
)


@dataclass(frozen=True, slots=True)
class SheetDay:
    """One day of the sheet: its tasks, and a mixing card for each bucket."""

    plan: week.DayPlan
    cards: list[week.Bucket]


# About 10 ms a row on top of a second of start-up: beyond this the worker draws it.
LONG_ROWS = 60


def weekly_sheet(unit: Unit, days: Sequence[date], now: datetime) -> bytes:
    """Draw the sheet of a week as a tagged PDF; the same data give the same bytes."""
    return written(sheet_context(unit, days, now))


def written(context: dict[str, object]) -> bytes:
    """Draw the sheet of a `sheet_context` as a tagged PDF."""
    return paper.pdf("paper/weekly_sheet.html", context)


def file_name(days: Sequence[date]) -> str:
    return f"bench-{units.week_of(days[0])}.pdf"


def is_long(plans: Iterable[week.DayPlan]) -> bool:
    """Whether the sheet takes so long to draw that the worker should do it."""
    return sum(len(line.rows) for plan in plans for line in plan.lines) > LONG_ROWS


def sheet_context(unit: Unit, days: Sequence[date], now: datetime) -> dict[str, object]:
    """Return the context of the sheet's template."""
    over = days[-1] < timezone.localdate(now)
    local, bucket = timezone.localtime(now), tick_off.bucket_of(unit)
    return {
        "unit": unit,
        "week": units.week_of(days[0]),
        "first": days[0],
        "last": days[-1],
        "printed_on": local.date(),
        "over": over,
        "plans": [
            SheetDay(plan, plan.buckets(*bucket))
            for plan in jobs.week_plan(unit, days, now)
            if plan.on >= local.date()
        ],
        "to_buy": []
        if over
        else [
            f"{each.material.name}: {each.order_words}"
            for each in to_order(stock_statuses(unit, now))
        ],
        "cautions": wording.POURING,
        "steps": STEP_WORDS,
    }
