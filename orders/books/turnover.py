"""Taxable turnover of twelve months compared with the VAT registration threshold."""

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from django.db.models import F, Sum

from orders.prices import vat

if TYPE_CHECKING:
    from orders.books.models import VatThreshold
    from studio.accounts.models import Unit


def supplies(unit: "Unit", since: date) -> list[vat.Supply]:
    """List taxable supplies by tax point since a day, excl. VAT. Three queries.

    They are invoices by their tax points, credit notes on their day, money received on orders
    without an invoice, and sales of vouchers that are taxed when sold.
    """
    # No paper is issued before its supply, and the issue date has an index.
    papers = unit.invoices.filter(issued_on__gte=since)
    found = [
        supply
        for row in papers.values_list(
            "kind", "issued_on", "supplied_on", "total_minor", "vat_minor", "content", named=True
        )
        for supply in _supplies_of(row)
    ]
    received = unit.payments.filter(received_on__gte=since, taxed_before=False).exclude(
        order__in=unit.orders.filter(pk__in=unit.invoices.in_force().values("order"))
    )
    found += [
        vat.Supply(on, amount_minor)
        for on, amount_minor in received.values_list("received_on", "amount_minor")
    ]
    return found + _taxed_vouchers(unit, since)


def _taxed_vouchers(unit: "Unit", since: date) -> list[vat.Supply]:
    """Read sales of vouchers taxed when sold, at their price excl. VAT; a cancellation counts below
    zero.
    """
    taxed = unit.vouchers.filter(taxed_when_sold=True)
    rows = taxed.values_list("sold_on", "cancelled_on", "price_minor", "vat_minor")
    found = []
    for sold_on, cancelled_on, price_minor, vat_minor in rows:
        found.append(vat.Supply(sold_on, price_minor - vat_minor))
        if cancelled_on:
            found.append(vat.Supply(cancelled_on, vat_minor - price_minor))
    return [supply for supply in found if supply.on >= since]


def turnover(unit: "Unit", today: date) -> vat.Turnover:
    """Compare the twelve months up to today with the threshold. Four queries."""
    thresholds = [
        vat.Threshold(row.valid_from, row.register_minor, row.leave_minor, row.warn_percent)
        for row in unit.vat_thresholds.all()
    ]
    return vat.turnover(supplies(unit, today - timedelta(days=400)), thresholds, today)


def near_threshold(unit: "Unit", today: date) -> int | None:
    """Return the percentage of the threshold reached in twelve months, None below the warning
    level.

    Counts papers and voucher sales excl. VAT. None also for a registered trader and without a
    threshold. At most three queries.
    """
    if vat.Registration(unit.vat_registered_on, unit.vat_left_on).holds_on(today):
        return None
    threshold: VatThreshold | None = unit.vat_thresholds.filter(valid_from__lte=today).first()
    if threshold is None:
        return None
    papers = unit.invoices.filter(issued_on__gt=today - timedelta(days=365))
    total_minor = papers.aggregate(sum=Sum(F("total_minor") - F("vat_minor")))["sum"] or 0
    cards = unit.vouchers.not_cancelled().filter(
        taxed_when_sold=True, sold_on__gt=today - timedelta(days=365)
    )
    total_minor += cards.aggregate(sum=Sum(F("price_minor") - F("vat_minor")))["sum"] or 0
    percent: int = total_minor * 100 // threshold.register_minor
    return percent if percent >= threshold.warn_percent else None


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
