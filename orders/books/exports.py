"""The day book as CSV and as JSON, with the same rows and sums."""

from typing import Any

from orders.books.day_book import DayBook
from studio.web.csv_tables import amount, as_csv


def day_book_csv(book: DayBook, currency: str) -> str:
    """Return one row per entry, then the reconciliation; amounts are decimals of the currency."""
    rows: list[list[Any]] = [
        [
            entry.on,
            entry.kind,
            entry.number,
            entry.account,
            amount(entry.amount_minor, currency),
            amount(entry.vat_minor, currency),
            entry.note,
        ]
        for entry in book.entries
    ]
    rows += [
        [day, label, "", "", amount(minor, currency), "", ""] for day, label, minor in _sums(book)
    ]
    return as_csv(
        ["Day", "Kind", "Number", "Account", f"Amount {currency}", f"VAT {currency}", "Note"], rows
    )


def day_book_json(book: DayBook, currency: str) -> dict[str, Any]:
    """Return the day book as plain data; amounts in minor units of the currency."""
    return {
        "first_on": book.first_on,
        "last_on": book.last_on,
        "currency": currency,
        "entries": [
            {
                "on": entry.on,
                "kind": entry.kind,
                "number": entry.number,
                "account": entry.account,
                "amount_minor": entry.amount_minor,
                "vat_minor": entry.vat_minor,
                "words": entry.note,
            }
            for entry in book.entries
        ],
        "sums": {label: minor for _, label, minor in _sums(book)},
        "balances_minor": book.balances,
    }


def _sums(book: DayBook) -> list[tuple[Any, str, int]]:
    sums = book.sums
    return [
        (book.first_on, "opening balance", sums.opening_minor),
        (book.last_on, "invoices", sums.invoiced_minor),
        (book.last_on, "credit notes", -sums.credited_minor),
        (book.last_on, "payments", -sums.paid_minor),
        (book.last_on, "paid back", sums.back_minor),
        (book.last_on, "vouchers used less given", sums.vouchers_minor),
        (book.last_on, "closing balance", sums.closing_minor),
        (book.last_on, "difference", sums.off_by_minor),
    ]
