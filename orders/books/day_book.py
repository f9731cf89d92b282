"""The day book of a unit: all invoices, credit notes, payments and vouchers as ledger entries."""

from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from django.db.models import Max, Min

from orders.books import ledger
from orders.books.ledger import Entry
from studio import references

if TYPE_CHECKING:
    from orders.vouchers.models import Voucher
    from studio.accounts.models import Unit


@dataclass(frozen=True, slots=True)
class DayBook:
    """The day book of a period, in minor units."""

    first_on: date
    last_on: date
    sums: ledger.Sums
    entries: list[Entry]
    """Of the period, the oldest first."""
    balances: dict[str, int]
    """What each account owes at the period's end."""


def day_book(unit: "Unit", first_on: date, last_on: date) -> DayBook:
    """Return the day book of a period, both days included. Three queries, whatever its length."""
    entries = all_entries(unit)
    return DayBook(
        first_on=first_on,
        last_on=last_on,
        sums=ledger.reconcile(entries, first=first_on, last=last_on),
        entries=[entry for entry in entries if first_on <= entry.on <= last_on],
        balances=ledger.balances(entries, last_on),
    )


def years(unit: "Unit", today: date) -> list[tuple[date, date]]:
    """List the UK tax years with a paper or a payment, newest first, and always the current one."""
    days = [today]
    for ends in (
        unit.invoices.aggregate(first=Min("issued_on"), last=Max("issued_on")),
        unit.payments.aggregate(first=Min("received_on"), last=Max("received_on")),
        unit.vouchers.aggregate(first=Min("sold_on"), last=Max("sold_on")),
    ):
        days += [day for day in ends.values() if day]
    first, last = min(days), max(days)
    found = [ledger.tax_year(last)]
    while found[-1][0] > first:
        found.append(ledger.tax_year(found[-1][0].replace(day=5)))
    return found


def all_entries(unit: "Unit") -> list[Entry]:
    """Return every ledger entry of the unit, oldest first. Three queries."""
    entries = [*_papers(unit), *_payments(unit), *_vouchers(unit)]
    return sorted(entries, key=lambda entry: (entry.on, entry.kind, entry.number))


def _papers(unit: "Unit") -> list[Entry]:
    rows = unit.invoices.values_list(
        "issued_on", "kind", "number", "order__job__reference", "total_minor", "vat_minor", "why"
    )
    return [
        Entry(
            on=on,
            kind=ledger.INVOICE if kind == "invoice" else ledger.CREDIT,
            number=number,
            account=references.display(reference),
            amount_minor=total_minor,
            vat_minor=vat_minor,
            note=why,
        )
        for on, kind, number, reference, total_minor, vat_minor, why in rows
    ]


def _payments(unit: "Unit") -> list[Entry]:
    """Read payments as entered; a reversal is an entry of its own."""
    rows = unit.payments.values_list(
        "pk",
        "received_on",
        "order__job__reference",
        "amount_minor",
        "method",
        "why",
        "voucher__code",
        "taxed_before",
    )
    return [
        entry
        for pk, on, reference, minor, method, why, code, taxed_before in rows
        for entry in ledger.of_money(
            ledger.Money(
                on=on,
                number=f"P{pk}",
                account=references.display(reference),
                amount_minor=minor,
                note=f"{method}: {why}" if why else method,
                voucher=references.display(code) if code else "",
                taxed_before=taxed_before,
            )
        )
    ]


def _vouchers(unit: "Unit") -> list[Entry]:
    return [
        entry
        for voucher in unit.vouchers.all()
        for card in _cards(voucher)
        for entry in ledger.of_card(card)
    ]


def _cards(voucher: "Voucher") -> list[ledger.Card]:
    sold = ledger.Card(
        on=voucher.sold_on,
        code=voucher.display_code,
        value_minor=voucher.value_minor,
        price_minor=voucher.price_minor,
        vat_minor=voucher.vat_minor,
        note=f"{voucher.method}: sold",
    )
    if voucher.cancelled_on is None:
        return [sold]
    note = f"{voucher.method}: {voucher.cancelled_why}"
    return [sold, replace(sold, on=voucher.cancelled_on, note=note, sold=False)]
