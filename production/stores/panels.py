"""What the stores show on Today: what is to be ordered by when, what is late, what to count."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from itertools import groupby

from django.urls import reverse

from production.queries.pieces import local_day
from production.stores import shelf
from studio import units
from studio.models import Role, Unit
from studio.panels import TodayItem, today_source
from studio.watched import watched


@today_source(40)
def in_the_stores(unit: Unit, role: Role, now: datetime) -> Sequence[TodayItem]:
    """The owner orders; whoever is at the bench may count."""
    return _in_the_stores(unit.pk, local_day(now), owner=role == Role.OWNER)


@watched
def _in_the_stores(unit_pk: int, today: date, *, owner: bool) -> tuple[TodayItem, ...]:
    return tuple(_items(shelf.shelf_on(Unit.objects.get(pk=unit_pk), today), owner=owner))


def _items(standing: Sequence[shelf.Shelved], *, owner: bool) -> Iterable[TodayItem]:
    for each in standing:
        if each.is_uncounted:
            yield TodayItem(
                group="bench",
                title=f"Count {each.material}",
                url=reverse("production:count_stock"),
                who="more was used than the books held",
            )
    if owner:
        wanted = [each for each in shelf.to_order(standing) if each.is_to_order]
        yield from (_order([each]) for each in wanted if each.outlook.is_short)
        timely = [each for each in wanted if not each.outlook.is_short]
        for _, together in groupby(timely, key=lambda each: each.outlook.order_by):
            yield _order(list(together))
        yield from (_overdue(each) for each in standing if each.overdue)


def _order(together: Sequence[shelf.Shelved]) -> TodayItem:
    """What is to be ordered by one day is one errand."""
    first = together[0]
    order_by = first.outlook.order_by or first.today
    when = "today" if order_by <= first.today else f"by {units.day(order_by)}"
    what = str(first.material) if len(together) == 1 else f"{len(together)} materials"
    names = "; ".join(str(each.material) for each in together)
    return TodayItem(
        group="bench",
        title=f"Order {what} {when}",
        url=reverse("production:purchases"),
        who=first.order_words if len(together) == 1 else names,
        due_on=order_by,
        why_late=_why_short(first) if first.outlook.is_short else "",
    )


def _why_short(each: shelf.Shelved) -> str:
    runs_out = each.outlook.runs_out_on or each.today
    if runs_out <= each.today:
        return "Late: nothing is left for today’s work."
    return f"Late: it runs out on {units.day(runs_out)}, before a delivery could come."


def _overdue(each: shelf.Shelved) -> TodayItem:
    first = each.overdue[0]
    return TodayItem(
        group="bench",
        title=f"Ask where {each.material} is",
        url=reverse("production:purchases"),
        who=each.material.supplier,
        due_on=first.expected_on,
        why_late=f"Late: expected {units.day(first.expected_on)}.",
    )
