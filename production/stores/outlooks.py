"""Stored reorder days of the materials, so that Today only reads them.

Stock movements and purchases mark their material; after the commit its days are computed again. The worker does
the same on a new day and after each new plan.
"""

from collections.abc import Iterator
from datetime import date, datetime

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from production.stock.models import Material
from production.stores import stock_status
from studio.accounts.models import Unit
from studio.work.models import Work
from studio.work.queue import periodic

STORED = ("order_on", "order_packs", "runs_out_on", "is_short", "is_uncounted", "outlook_on")


def store_outlooks(unit: Unit, today: date) -> None:
    """Compute and store when each material of the unit is to be ordered. About twenty queries."""
    found = stock_status.stock_statuses_on(unit, today)
    for each in found:
        material, outlook = each.material, each.outlook
        material.order_on, material.order_packs = outlook.order_by, outlook.packs
        material.runs_out_on, material.is_short = outlook.runs_out_on, outlook.is_short
        material.is_uncounted, material.outlook_on = each.is_uncounted, today
    Material.objects.bulk_update([each.material for each in found], STORED)


def stock_changed(material: Material) -> None:
    """Mark the material as out of date and compute its days again after the commit. One query before it."""
    Material.objects.filter(pk=material.pk).update(outlook_on=None)
    unit = material.unit
    transaction.on_commit(lambda: _store_what_is_old(unit, timezone.now()), robust=True)


@periodic
def store_on_a_new_day(now: datetime) -> Iterator[Work]:
    """Compute the days of units with any not of today; yields no work."""
    for unit in Unit.objects.all():
        _store_what_is_old(unit, now)
    yield from ()


def _store_what_is_old(unit: Unit, now: datetime) -> None:
    """Compute the unit's days unless all are of today. One query if they are."""
    with timezone.override(unit.time_zone):  # a day begins where the unit is
        today = timezone.localdate(now)
        if unit.materials.kept().filter(~Q(outlook_on=today) | Q(outlook_on=None)).exists():
            store_outlooks(unit, today)
