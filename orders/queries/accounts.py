"""What families owe: a family's account row by row, and the unit's debts by how late they are."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any, cast

from django.db.models import F, Max, OuterRef, Subquery, Sum

from orders import vat
from orders.money_papers import BUCKETS, bucket_of
from orders.queries.rows import OrderQuerySet
from studio.stages import Stage

if TYPE_CHECKING:
    from orders.models import Order, VatThreshold
    from studio.models import Family, Unit

GONE_LATELY = timedelta(days=90)
MOST_IN_A_BATCH = 2000


@dataclass(frozen=True, slots=True)
class AccountRow:
    """One paper or payment; `amount_minor` is what it adds to what the family owes."""

    on: date
    words: str
    amount_minor: int
    balance_minor: int
    number: str = ""
    """Of an invoice or credit note, whose PDF can be opened."""

    @property
    def off_minor(self) -> int:
        return -self.amount_minor


@dataclass(frozen=True, slots=True)
class Account:
    family: "Family"
    rows: list[AccountRow]

    @property
    def balance_minor(self) -> int:
        return self.rows[-1].balance_minor if self.rows else 0

    @property
    def shown_minor(self) -> int:
        """Without its sign, for the words beside it."""
        return abs(self.balance_minor)


def account_of(family: "Family") -> Account:
    """Invoices, credit notes and payments of all jobs of a family, the oldest first. Two queries."""
    unit = family.unit
    papers = unit.invoices.filter(order__job__family=family).order_by("issued_on", "pk")
    # What a voucher taxed when it was sold has paid is no part of the invoices.
    money = unit.payments.filter(order__job__family=family, taxed_before=False)
    found = [
        (
            paper.issued_on,
            0,
            f"{paper.get_kind_display()} {paper.number}",
            paper.total_minor,
            paper.number,
        )
        for paper in papers
    ]
    found += [
        (row.received_on, 1, _payment_words(row), -row.amount_minor, "")
        for row in money.select_related("order__job").order_by("received_on", "pk")
    ]
    rows, balance_minor = [], 0
    for on, _, words, amount_minor, number in sorted(found, key=lambda row: row[:2]):
        balance_minor += amount_minor
        rows.append(AccountRow(on, words, amount_minor, balance_minor, number))
    return Account(family, rows)


@dataclass(frozen=True, slots=True)
class Late:
    """An invoice that is not paid: how late, and when the family was last reminded."""

    reference: str
    family: str
    number: str
    due_on: date
    days_late: int
    balance_minor: int
    reminded_at: Any
    bucket: int

    @property
    def words(self) -> str:
        return BUCKETS[self.bucket].words


@dataclass(frozen=True, slots=True)
class Ageing:
    rows: list[Late]
    sums: list[tuple[str, int, int]]
    """For each step of lateness: its words, how many, minor units."""
    total_minor: int


def ageing(unit: "Unit", today: date) -> Ageing:
    """What is invoiced and not paid, by how late it is; the latest first. One query."""
    from orders.models import Invoice  # noqa: PLC0415 - models import this package
    from studio.models import JobEvent  # noqa: PLC0415

    standing = Invoice.objects.standing().filter(order=OuterRef("pk"))
    reminded = (
        JobEvent.objects.filter(job=OuterRef("job"), what="note_reminder")
        .order_by()
        .values("job")
        .annotate(last=Max("at"))
        .values("last")
    )
    orders = cast(Any, unit.orders.unsettled().with_balance().with_invoiced_on())
    found = (
        orders.filter(balance__gt=0, invoiced_on__isnull=False)
        .annotate(
            number=Subquery(standing.values("number")[:1]),
            due_on=Subquery(standing.values("due_on")[:1]),
            reminded_at=Subquery(reminded),
        )
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
    rows = [_late(row, unit, today) for row in found]
    rows.sort(key=lambda row: -row.days_late)
    return Ageing(rows, _sums(rows), sum(row.balance_minor for row in rows))


def _late(row: Any, unit: "Unit", today: date) -> Late:
    # Papers from before there was a day by which to pay.
    due_on = row.due_on or row.invoiced_on + timedelta(days=unit.payment_days)
    days = (today - due_on).days
    return Late(
        reference=row.job__reference,
        family=row.job__family__name,
        number=row.number,
        due_on=due_on,
        days_late=days,
        balance_minor=row.balance,
        reminded_at=row.reminded_at,
        bucket=bucket_of(days),
    )


def _sums(rows: Iterable[Late]) -> list[tuple[str, int, int]]:
    counts: dict[int, int] = defaultdict(int)
    sums: dict[int, int] = defaultdict(int)
    for row in rows:
        counts[row.bucket] += 1
        sums[row.bucket] += row.balance_minor
    return [(bucket.words, counts[i], sums[i]) for i, bucket in enumerate(BUCKETS)]


def to_invoice(unit: "Unit", today: date) -> OrderQuerySet:
    """Ready, or gone home lately, charged for and not invoiced: what a batch takes. Adds `total`,
    `paid`, `balance`, and `taxed_before`, what vouchers pay whose sale was the supply.
    """
    # The stubs do not know what the query set added.
    orders = cast(Any, unit.orders.with_balance().with_invoiced_on().with_taxed_before())
    found: OrderQuerySet = orders.filter(invoiced_on=None, total__gt=F("taxed_before")).filter(
        job__stage__in=(Stage.READY, Stage.HANDED_OVER),
        job__stage_since__date__gt=today - GONE_LATELY,
    )
    return found.select_related("job__family").order_by("job__stage_since", "pk")[:MOST_IN_A_BATCH]


def supplies(unit: "Unit", since: date) -> list[vat.Supply]:
    """The taxable turnover by tax point from a day on, without the tax: invoices by their slices,
    credit notes on their day, money that came on orders that are not invoiced, and vouchers that are
    taxed when they are sold. Three queries.
    """
    # No paper is issued before its supply, and the day of issue has an index.
    papers = unit.invoices.filter(issued_on__gte=since)
    found = [
        supply
        for row in papers.values_list(
            "kind", "issued_on", "supplied_on", "total_minor", "vat_minor", "content", named=True
        )
        for supply in _supplies_of(row)
    ]
    received = unit.payments.filter(received_on__gte=since, taxed_before=False).exclude(
        order__in=unit.orders.filter(pk__in=unit.invoices.standing().values("order"))
    )
    found += [
        vat.Supply(on, amount_minor)
        for on, amount_minor in received.values_list("received_on", "amount_minor")
    ]
    return found + _taxed_vouchers(unit, since)


def _taxed_vouchers(unit: "Unit", since: date) -> list[vat.Supply]:
    """Their sale is the supply, at the price paid without the tax; less those that were taken back."""
    taxed = unit.vouchers.filter(taxed_when_sold=True)
    rows = taxed.values_list("sold_on", "cancelled_on", "price_minor", "vat_minor")
    found = []
    for sold_on, cancelled_on, price_minor, vat_minor in rows:
        found.append(vat.Supply(sold_on, price_minor - vat_minor))
        if cancelled_on:
            found.append(vat.Supply(cancelled_on, vat_minor - price_minor))
    return [supply for supply in found if supply.on >= since]


def turnover(unit: "Unit", today: date) -> vat.Turnover:
    """The twelve months up to today against the threshold. Three queries."""
    thresholds = [
        vat.Threshold(row.valid_from, row.register_minor, row.leave_minor, row.warn_percent)
        for row in unit.vat_thresholds.all()
    ]
    return vat.turnover(supplies(unit, today - timedelta(days=400)), thresholds, today)


def near_threshold(unit: "Unit", today: date) -> int | None:
    """Per cent of the threshold that twelve months of papers without their tax have reached, from the mark
    on from which the owner wants to be warned; None below, for who is registered, and without a
    threshold. At most three queries.
    """
    if vat.Registration(unit.vat_registered_on, unit.vat_left_on).holds_on(today):
        return None
    threshold: VatThreshold | None = unit.vat_thresholds.filter(valid_from__lte=today).first()
    if threshold is None:
        return None
    papers = unit.invoices.filter(issued_on__gt=today - timedelta(days=365))
    total_minor = papers.aggregate(sum=Sum(F("total_minor") - F("vat_minor")))["sum"] or 0
    cards = unit.vouchers.standing().filter(
        taxed_when_sold=True, sold_on__gt=today - timedelta(days=365)
    )
    total_minor += cards.aggregate(sum=Sum(F("price_minor") - F("vat_minor")))["sum"] or 0
    percent: int = total_minor * 100 // threshold.register_minor
    return percent if percent >= threshold.warn_percent else None


def charged_lines(order: "Order") -> list[tuple[str, int]]:
    """Each line above nothing and what it came to after its part of the reductions. One query."""
    lines = [line for line in order.lines.all() if line.amount_minor]
    parts = vat.charged([line.amount_minor for line in lines])
    return [
        (line.label, part) for line, part in zip(lines, parts, strict=True) if line.amount_minor > 0
    ]


def _supplies_of(row: Any) -> list[vat.Supply]:
    if row.kind == "credit":
        return [vat.Supply(row.issued_on, row.total_minor - row.vat_minor)]
    points = [point for tax in row.content.get("taxes", ()) for point in tax["points"]]
    points = points or row.content.get("slices", ())
    if not points:  # a paper of before there were slices
        return [vat.Supply(row.supplied_on, row.total_minor - row.vat_minor)]
    return [
        vat.Supply(
            date.fromisoformat(point["on"]), point["gross_minor"] - point.get("vat_minor", 0)
        )
        for point in points
    ]


def _payment_words(row: Any) -> str:
    what = "Paid" if row.amount_minor > 0 else "Paid back"
    if row.reverses_id:
        what = "Reversed"
    return f"{what}, {row.get_method_display()}, job {row.order.job.spoken_reference}"
