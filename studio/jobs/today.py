"""The page Today: the items of all apps by section, each by day and time."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

from django.utils import timezone

if TYPE_CHECKING:
    from studio.web.panels import TodayItem


@dataclass(frozen=True, slots=True)
class Day:
    """Items of the page Today by section."""

    late: tuple["TodayItem", ...]
    sittings: tuple["TodayItem", ...]
    bench: tuple["TodayItem", ...]
    families: tuple["TodayItem", ...]
    soon: tuple["TodayItem", ...]
    owed: tuple["TodayItem", ...]
    owed_minor: int

    @property
    def for_now(self) -> int:
        """Number of items for today that are not late."""
        return len(self.sittings) + len(self.bench)

    @property
    def is_empty(self) -> bool:
        return not (
            self.late or self.sittings or self.bench or self.families or self.soon or self.owed
        )


def arrange_today(items: Iterable["TodayItem"], now: datetime) -> Day:
    """Sort the items of Today into sections, each by day and time."""
    today = timezone.localdate(now)
    ordered = sorted(items, key=lambda item: (*_due(item, now, today), item.title))
    timely = [item for item in ordered if not item.why_late]

    def of(group: str) -> tuple["TodayItem", ...]:
        return tuple(i for i in timely if i.group == group and not _is_soon(i, today))

    money = tuple(item for item in ordered if item.group == "owed")
    return Day(
        late=tuple(item for item in ordered if item.why_late and item.group != "owed"),
        sittings=of("sittings"),
        bench=of("bench"),
        families=of("families"),
        soon=tuple(i for i in timely if i.group != "owed" and _is_soon(i, today)),
        owed=money,
        owed_minor=sum(item.amount_minor or 0 for item in money),
    )


def _due(item: "TodayItem", now: datetime, today: date) -> tuple[date, datetime]:
    if item.due_on is None and item.at:
        return timezone.localdate(item.at), item.at
    return item.due_on or today, item.at or now


def _is_soon(item: "TodayItem", today: date) -> bool:
    return item.due_on is not None and item.due_on > today
