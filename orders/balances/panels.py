"""What families owe: items on Today and the account panel of a family."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from django.urls import reverse
from django.utils import timezone

from orders.balances import debts
from orders.balances.accounts import account_of
from studio import units
from studio.accounts.models import Unit
from studio.families.models import Family
from studio.roles import Role
from studio.web.panels import (
    Panel,
    TodayItem,
    family_panel,
    today_source,
)

ASK_FOR_DEPOSIT_BEFORE = timedelta(days=7)


@today_source(70)
def owed(unit: Unit, role: Role, now: datetime) -> Sequence[TodayItem]:
    """List what to ask families for and what to refund; for the owner only. One query."""
    if role != Role.OWNER:
        return ()
    return [
        TodayItem(
            group="owed",
            title=debt.label,
            url=reverse("orders:order", args=[debt.reference]),
            detail=debt.family,
            reference=debt.reference,
            due_on=debt.since,
            amount_minor=debt.balance_minor,
            why_late=f"Invoiced {debt.days} days ago." if debt.is_late else "",
        )
        for debt in debts.owed(unit, timezone.localdate(now))
    ]


@today_source(71)
def deposits(unit: Unit, role: Role, now: datetime) -> Sequence[TodayItem]:
    """List deposits unpaid a week before they are due; for the owner only. One query."""
    if role != Role.OWNER:
        return ()
    before = now + ASK_FOR_DEPOSIT_BEFORE + timedelta(days=unit.deposit_days)
    today = timezone.localdate(now)
    return [
        TodayItem(
            group="owed",
            title=f"Deposit before the sitting on {units.day(timezone.localdate(each.sits_at))}",
            url=reverse("orders:order", args=[each.reference]),
            detail=each.family,
            reference=each.reference,
            due_on=each.due_on,
            amount_minor=each.deposit_left_minor,
            why_late=f"It was due on {units.day(each.due_on)}." if each.due_on < today else "",
        )
        for each in debts.deposits_before(unit, before)
    ]


@family_panel(30)
def account_of_family(family: Family, role: Role, now: datetime) -> Panel | None:
    """Show the balance of the family's account; for the owner only."""
    if role != Role.OWNER:
        return None
    context = {"family": family, "account": account_of(family)}
    return Panel("Account", "orders/balances/_account_panel.html", context, "account")
