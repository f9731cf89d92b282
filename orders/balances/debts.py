"""What families owe a unit: balances due and to come, deposits, and the takings of a month."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any, NamedTuple, cast

from django.utils import timezone

from orders.order.querysets import OrderQuerySet
from orders.order.totals import deposit_of
from studio.stages import CLOSED, Stage

if TYPE_CHECKING:
    from studio.accounts.models import Unit


LATE_AFTER_DAYS = 14


@dataclass(frozen=True, slots=True)
class Debt:
    """The balance of one order in minor units, below zero if the family gets money back.

    It has been due `days` days, since the day `since`; `family` is its name.
    """

    reference: str
    family: str
    balance_minor: int
    since: date
    why: str
    """"invoiced", "ready", "gone", "kept", "back" or "to come"."""
    days: int
    deposit_left_minor: int
    promised_on: date | None

    @property
    def is_late(self) -> bool:
        """Whether an invoice has been unpaid for more than 14 days."""
        return self.why == "invoiced" and self.days > LATE_AFTER_DAYS

    @property
    def label(self) -> str:
        """The reason for the balance, as shown on screen."""
        return {
            "invoiced": "Invoice not paid",
            "ready": "Ready to go home, not paid",
            "gone": "Gone home, not paid",
            "kept": "Called off, not paid",
            "back": "To pay back",
            "to come": "To come",
        }[self.why]


def owed(unit: "Unit", today: date) -> list[Debt]:
    """List the balances to ask for now, and money to refund, oldest invoice first. One query."""
    return _debts(unit.orders.owed_now(), unit, today)


def asked_minor(debts: Iterable[Debt]) -> int:
    """Return the sum of all debts above zero, in minor units; refunds are not set against it."""
    return sum(debt.balance_minor for debt in debts if debt.balance_minor > 0)


def to_come(unit: "Unit", today: date) -> list[Debt]:
    """List the balances of open jobs that are not due yet, the soonest promise first. One query."""
    return _debts(unit.orders.to_come(), unit, today)


@dataclass(frozen=True, slots=True)
class Deposit:
    """An unpaid deposit and the time of its sitting."""

    reference: str
    family: str
    sits_at: datetime
    deposit_left_minor: int
    due_on: date


def deposits_before(unit: "Unit", moment: datetime) -> list[Deposit]:
    """List unpaid deposits of sittings planned before `moment`, soonest first. One query."""
    # The type stubs do not know the annotations.
    orders = cast(Any, unit.orders.sitting_before(moment))
    rows = orders.values_list("job__reference", "job__family__name", "sits_at", "total", "paid")
    return [
        Deposit(reference, family, sits_at, left_minor, deposit_due_on(unit, sits_at))
        for reference, family, sits_at, total, paid in rows
        if (left_minor := deposit_of(unit, total) - paid) > 0
    ]


def deposit_due_on(unit: "Unit", sits_at: datetime) -> date:
    """Return the day on which the deposit is due: the unit's number of days before the sitting."""
    return timezone.localdate(sits_at) - timedelta(days=unit.deposit_days)


@dataclass(frozen=True, slots=True)
class Takings:
    """The money of a month in minor units: received, and paid back (zero or more)."""

    in_minor: int
    back_minor: int
    payments: int

    @property
    def net_minor(self) -> int:
        """Received less paid back, in minor units."""
        return self.in_minor - self.back_minor


def takings(unit: "Unit", day: date) -> Takings:
    """Return the takings of the month that contains `day`.

    A payment reversed in the same month is left out; a voucher counts when it is sold, not when it
    is used.
    """
    month = unit.payments.filter(voucher=None).in_month_of(day)
    slips = month.filter(reverses__in=month.values("pk"))
    rows = month.exclude(pk__in=slips.values("pk")).exclude(reversed_by__in=slips.values("pk"))
    cards = unit.vouchers
    amounts = [
        *rows.values_list("amount_minor", flat=True),
        *cards.sold_in_month_of(day).values_list("price_minor", flat=True),
        *(-minor for minor in cards.back_in_month_of(day).values_list("price_minor", flat=True)),
    ]
    return Takings(
        in_minor=sum(amount for amount in amounts if amount > 0),
        back_minor=-sum(amount for amount in amounts if amount < 0),
        payments=sum(1 for amount in amounts if amount > 0),
    )


class _Row(NamedTuple):
    reference: str
    family: str
    stage: str
    stage_since: datetime
    opened_at: datetime
    promised_on: date | None
    total: int
    paid: int
    invoiced_on: date | None


def _debts(orders: OrderQuerySet, unit: "Unit", today: date) -> list[Debt]:
    """Read orders of `owed_now()` or `to_come()` as debts. One query."""
    of_job = ("reference", "family__name", "stage", "stage_since", "opened_at", "promised_on")
    names = (*(f"job__{name}" for name in of_job), "total", "paid", "invoiced_on")
    # The type stubs do not know the annotations.
    return [_debt(_Row(*row), unit, today) for row in cast(Any, orders).values_list(*names)]


def _debt(row: _Row, unit: "Unit", today: date) -> Debt:
    balance_minor = row.total - row.paid
    since, why = _since(row, balance_minor)
    deposit_left_minor = deposit_of(unit, row.total) - row.paid
    return Debt(
        reference=row.reference,
        family=row.family,
        balance_minor=balance_minor,
        since=since,
        why=why,
        days=(today - since).days,
        deposit_left_minor=max(0, min(deposit_left_minor, balance_minor)),
        promised_on=row.promised_on,
    )


def _since(row: _Row, balance_minor: int) -> tuple[date, str]:
    stage_since = timezone.localdate(row.stage_since)
    if balance_minor < 0:
        return stage_since, "back"
    if row.invoiced_on:
        return row.invoiced_on, "invoiced"
    if row.stage == Stage.READY:
        return stage_since, "ready"
    if row.stage in CLOSED:
        return stage_since, "gone" if row.stage == Stage.HANDED_OVER else "kept"
    return timezone.localdate(row.opened_at), "to come"
