"""Turnover near the threshold of registration, on Today."""

from collections.abc import Sequence
from datetime import datetime

from django.urls import reverse
from django.utils import timezone

from orders.books.turnover import near_threshold
from studio.accounts.models import Unit
from studio.roles import Role
from studio.web.panels import (
    TodayItem,
    today_source,
)


@today_source(72)
def near_the_threshold(unit: Unit, role: Role, now: datetime) -> Sequence[TodayItem]:
    """Twelve months of turnover that come near the sum at which one must register; the owner's."""
    if role != Role.OWNER:
        return ()
    percent = near_threshold(unit, timezone.localdate(now))
    if percent is None:
        return ()
    title = f"Turnover is at {percent} % of the sum at which you must register"
    return [TodayItem(group="owed", title=title, url=reverse("orders:turnover"))]
