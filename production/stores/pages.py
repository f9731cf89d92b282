"""Contexts of the pages of the stores."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.core.paginator import Paginator
from django.db.models import Sum, Window
from django.db.models.expressions import F
from django.utils import timezone

from production.stock.models import Lot, Material, StockMove
from production.stores import drawing, stock_status
from production.stores.actions import Difference
from studio.accounts.models import Unit

LINES_A_PAGE = 15


@dataclass(frozen=True, slots=True)
class LotNow:
    """A lot with its age in days, and how often on average each gram of it was used."""

    lot: Lot
    days_old: int
    uses: float
    is_past_best: bool
    is_overused: bool

    @property
    def age_words(self) -> str:
        return f"{self.days_old} day{'' if self.days_old == 1 else 's'}"

    @property
    def left_words(self) -> str:
        return self.lot.material.say(self.lot.left)

    @property
    def uses_words(self) -> str:
        return f"{self.uses:.1f} times"


def stores(unit: Unit, now: datetime) -> dict[str, Any]:
    """Return the status of every material, and those that need attention."""
    standing = stock_status.stock_statuses(unit, now)
    return {
        "standing": standing,
        "short": [each for each in stock_status.to_order(standing) if each.is_to_order],
        "uncounted": [each for each in standing if each.is_uncounted],
        "past_best": [each for each in standing if each.past_best],
        "overdue": [each for each in standing if each.overdue],
        "worn": overused_materials(standing),
        "retired": list(unit.materials.exclude(retired_at=None)),
        "tied_up_minor": sum(each.tied_up_minor for each in standing),
        "today": timezone.localdate(now),
    }


def purchases(unit: Unit, now: datetime) -> dict[str, Any]:
    """Return what to order, the soonest first, and what is on its way."""
    standing = stock_status.stock_statuses(unit, now)
    wanted = stock_status.to_order(standing)
    coming = [purchase for each in standing for purchase in each.coming]
    return {
        "wanted": [each for each in wanted if each.is_to_order],
        "later": [each for each in wanted if not each.is_to_order],
        "coming": sorted(coming, key=lambda each: (each.expected_on, each.pk)),
        "cost_minor": sum(each.order_cost_minor for each in wanted if each.is_to_order),
        "today": timezone.localdate(now),
    }


def material(found: Material, now: datetime, page: str | None) -> dict[str, Any]:
    """Return one material: status, lots, forecast, and movements with running balance."""
    standing = stock_status.stock_status_of(found, now)
    lines = StockMove.objects.filter(lot__material=found).with_names()
    balance = Window(Sum("quantity"), order_by=[F("at").asc(), F("pk").asc()])
    ledger = lines.annotate(balance=balance).newest_first()
    return {
        "material": found,
        "now": standing,
        "lots": lots_now(standing),
        "page": Paginator(ledger, LINES_A_PAGE).get_page(page),
        "drawn": drawing.draw_stock_forecast(standing),
        "today": standing.today,
    }


def overused_materials(
    standing: Iterable[stock_status.StockStatus],
) -> list[stock_status.StockStatus]:
    """Return materials with a lot that was used as often as allowed. One query."""
    counted = [each for each in standing if each.material.most_uses]
    used = _used([lot.pk for each in counted for lot in each.lots])
    return [
        each
        for each in counted
        if any(
            used.get(lot.pk, 0) >= (each.material.most_uses or 0) * lot.quantity
            for lot in each.lots
        )
    ]


def lots_now(standing: stock_status.StockStatus) -> list[LotNow]:
    """Return the lots in stock, oldest first. One query."""
    used = _used([lot.pk for lot in standing.lots])
    most = standing.material.most_uses
    return [
        LotNow(
            lot=lot,
            days_old=(standing.today - lot.received_on).days,
            uses=(uses := used.get(lot.pk, 0) / lot.quantity),
            is_past_best=lot in standing.past_best,
            is_overused=bool(most) and uses >= (most or 0),
        )
        for lot in standing.lots
    ]


def counted(found: Sequence[Difference]) -> str:
    """Message after a stocktake: how many materials were counted, and the differences."""
    differ = [each for each in found if each.quantity]
    what = f"{len(found)} material{'' if len(found) == 1 else 's'} counted"
    if not differ:
        return f"{what}: the books agree."
    return f"{what}: " + "; ".join(_difference(each) for each in differ) + "."


def _difference(found: Difference) -> str:
    said = found.material.say(abs(found.quantity))
    return f"{found.material}, {said} {'more' if found.quantity > 0 else 'less'}"


def _used(pks: Iterable[int]) -> dict[int, int]:
    """Return the use of each lot (primary keys) in base units, reuse counted again. One query."""
    lines = StockMove.objects.filter(lot__in=list(pks), what=StockMove.What.USED).order_by()
    return {pk: -total for pk, total in lines.values_list("lot").annotate(Sum("quantity"))}
