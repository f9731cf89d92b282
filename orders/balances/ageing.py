"""Aged debtors: unpaid invoices by how many days they are overdue."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any, cast

from django.db.models import Max, OuterRef, Subquery

from orders.balances.reminder_letters import BUCKETS, bucket_of
from studio.jobs.models import JobEvent

if TYPE_CHECKING:
    from studio.accounts.models import Unit


@dataclass(frozen=True, slots=True)
class OverdueInvoice:
    """An unpaid invoice: days past its due date (below zero before it) and the last reminder.

    `reference` is the job's, `bucket` the index in BUCKETS, `reminded_at` None without a reminder.
    """

    reference: str
    family: str
    number: str
    due_on: date
    days_late: int
    balance_minor: int
    reminded_at: Any
    bucket: int

    @property
    def label(self) -> str:
        return BUCKETS[self.bucket].label


@dataclass(frozen=True, slots=True)
class Ageing:
    """Unpaid invoices and their totals by age bucket, in minor units."""

    rows: list[OverdueInvoice]
    sums: list[tuple[str, int, int]]
    """For each step of lateness: its words, how many, minor units."""
    total_minor: int


def ageing(unit: "Unit", today: date) -> Ageing:
    """List the unit's unpaid invoices with totals by age, the most overdue first. One query."""
    reminded = (
        JobEvent.objects.filter(job=OuterRef("job"), what="note_reminder")
        .order_by()
        .values("job")
        .annotate(last=Max("at"))
        .values("last")
    )
    # The type stubs do not know the annotations.
    orders = cast(Any, unit.orders.unsettled().with_balance().with_invoice())
    found = (
        orders.filter(balance__gt=0, invoiced_on__isnull=False)
        .annotate(reminded_at=Subquery(reminded))
        .values_list(
            "job__reference",
            "job__family__name",
            "number",
            "invoiced_on",
            "due_on",
            "balance",
            "reminded_at",
            named=True,
        )
    )
    rows = [_overdue(row, unit, today) for row in found]
    rows.sort(key=lambda row: -row.days_late)
    return Ageing(rows, _sums(rows), sum(row.balance_minor for row in rows))


def _overdue(row: Any, unit: "Unit", today: date) -> OverdueInvoice:
    # Old invoices have no due date.
    due_on = row.due_on or row.invoiced_on + timedelta(days=unit.payment_days)
    days = (today - due_on).days
    return OverdueInvoice(
        reference=row.job__reference,
        family=row.job__family__name,
        number=row.number,
        due_on=due_on,
        days_late=days,
        balance_minor=row.balance,
        reminded_at=row.reminded_at,
        bucket=bucket_of(days),
    )


def _sums(rows: Iterable[OverdueInvoice]) -> list[tuple[str, int, int]]:
    counts: dict[int, int] = defaultdict(int)
    sums: dict[int, int] = defaultdict(int)
    for row in rows:
        counts[row.bucket] += 1
        sums[row.bucket] += row.balance_minor
    return [(bucket.label, counts[i], sums[i]) for i, bucket in enumerate(BUCKETS)]
