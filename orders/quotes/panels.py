"""Families' answers to prices, on Today."""

from collections.abc import Sequence
from datetime import datetime

from django.urls import reverse

from studio.accounts.models import Unit
from studio.roles import Role
from studio.web.panels import (
    TodayItem,
    today_source,
)


@today_source(65)
def answers(unit: Unit, role: Role, now: datetime) -> Sequence[TodayItem]:
    """List new answers of families to their prices; for the owner only. One query."""
    if role != Role.OWNER:
        return ()
    new = unit.family_answers.filter(noted_at=None).order_by("answered_at", "pk")
    rows = new.values_list(
        "order__job__reference", "order__job__family__name", "quote", "words", "total_minor"
    )
    return [_answer_item(*row) for row in rows]


def _answer_item(
    reference: str, family: str, quote: int | None, words: str, total_minor: int
) -> TodayItem:
    no = f"Says no to the price: {words}" if words else "Says no to the price"
    return TodayItem(
        group="families",
        title="Has ordered at the price" if quote else no,
        url=reverse("orders:order", args=[reference]),
        detail=family,
        reference=reference,
        amount_minor=total_minor,
    )
