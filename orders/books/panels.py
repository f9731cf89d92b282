"""A warning on Today when turnover nears the VAT registration threshold."""

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
    """Warn the owner when twelve months of turnover near the VAT registration threshold."""
    if role != Role.OWNER:
        return ()
    percent = near_threshold(unit, timezone.localdate(now))
    if percent is None:
        return ()
    title = f"Turnover is at {percent} % of the sum at which you must register"
    return [TodayItem(group="owed", title=title, url=reverse("orders:turnover"))]
