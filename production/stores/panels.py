"""Items of the stores on Today: orders due, late deliveries, materials to count."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, timedelta
from itertools import groupby

from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from production.stock.models import Material, Purchase
from studio import units
from studio.accounts.models import Unit
from studio.roles import Role
from studio.web.panels import TodayItem, today_source

# One look a week at what is to be ordered is enough.
ORDER_WITHIN = timedelta(days=7)


@today_source(40)
def in_the_stores(unit: Unit, role: Role, now: datetime) -> Iterator[TodayItem]:
    """Return materials to count and, for the owner, orders due within a week and late deliveries. Two queries."""
    today = timezone.localdate(now)
    wanted = Q(is_uncounted=True) | Q(order_on__lte=today + ORDER_WITHIN)
    materials = list(unit.materials.kept().filter(wanted).order_by("order_on", "name"))
    yield from (_count(each) for each in materials if each.is_uncounted)
    if role == Role.OWNER:
        yield from _to_order([each for each in materials if _is_to_order(each, today)], today)
        yield from _overdue(unit, today)


def _is_to_order(material: Material, today: date) -> bool:
    return material.order_on is not None and material.order_on <= today + ORDER_WITHIN


def _count(material: Material) -> TodayItem:
    return TodayItem(
        group="bench",
        title=f"Count {material}",
        url=reverse("production:count_stock"),
        detail="more was used than the books held",
    )


def _to_order(wanted: Iterable[Material], today: date) -> Iterator[TodayItem]:
    """Yield an item for each material that runs short, and one a day for the others."""
    timely = []
    for each in wanted:
        if each.is_short:
            yield _order([each], today)
        else:
            timely.append(each)
    for _, materials in groupby(timely, key=lambda each: each.order_on):
        yield _order(list(materials), today)


def _order(materials: Sequence[Material], today: date) -> TodayItem:
    """Return one item for all materials to be ordered by the same day."""
    first = materials[0]
    order_on = first.order_on or today
    when = "today" if order_on <= today else f"by {units.day(order_on)}"
    what = str(first) if len(materials) == 1 else f"{len(materials)} materials"
    names = "; ".join(str(each) for each in materials)
    return TodayItem(
        group="bench",
        title=f"Order {what} {when}",
        url=reverse("production:purchases"),
        detail=first.packs_label(first.order_packs) if len(materials) == 1 else names,
        due_on=order_on,
        why_late=_why_short(first, today) if first.is_short else "",
    )


def _why_short(material: Material, today: date) -> str:
    runs_out = material.runs_out_on or today
    if runs_out <= today:
        return "Late: nothing is left for today’s work."
    return f"Late: it runs out on {units.day(runs_out)}, before a delivery could come."


def _overdue(unit: Unit, today: date) -> Iterator[TodayItem]:
    """Yield an item for the oldest late purchase of each material. One query."""
    purchases = Purchase.objects.on_their_way().filter(
        material__unit=unit, material__retired_at=None, expected_on__lt=today
    )
    oldest: dict[int, Purchase] = {}
    for purchase in purchases.select_related("material"):
        oldest.setdefault(purchase.material_id, purchase)
    for purchase in oldest.values():
        yield TodayItem(
            group="bench",
            title=f"Ask where {purchase.material} is",
            url=reverse("production:purchases"),
            detail=purchase.material.supplier,
            due_on=purchase.expected_on,
            why_late=f"Late: expected {units.day(purchase.expected_on)}.",
        )
