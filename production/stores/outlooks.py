"""When each material is to be ordered, stored where it changes, so that Today only has to read it.

A movement of stock or a purchase marks its material; after the commit the days are worked out anew.
The worker does the same on a new day, and after each plan of the bench: what is ahead has changed.
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
    """Work out when each material of the unit is to be ordered, and store it. About twenty queries."""
    found = stock_status.stock_statuses_on(unit, today)
    for each in found:
        material, outlook = each.material, each.outlook
        material.order_on, material.order_packs = outlook.order_by, outlook.packs
        material.runs_out_on, material.is_short = outlook.runs_out_on, outlook.is_short
        material.is_uncounted, material.outlook_on = each.is_uncounted, today
    Material.objects.bulk_update([each.material for each in found], STORED)


def stock_changed(material: Material) -> None:
    """Have the days worked out anew once the action is committed. One query before it."""
    Material.objects.filter(pk=material.pk).update(outlook_on=None)
    unit = material.unit
    transaction.on_commit(lambda: _store_what_is_old(unit, timezone.now()), robust=True)


@periodic
def store_on_a_new_day(now: datetime) -> Iterator[Work]:
    """Store the days of each unit of which some are not of today; asks for no work."""
    for unit in Unit.objects.all():
        _store_what_is_old(unit, now)
    yield from ()


def _store_what_is_old(unit: Unit, now: datetime) -> None:
    """One query where all are of today: of several movements in one action, the first does it."""
    with timezone.override(unit.time_zone):  # a day begins where the unit is
        today = timezone.localdate(now)
        if unit.materials.kept().filter(~Q(outlook_on=today) | Q(outlook_on=None)).exists():
            store_outlooks(unit, today)
