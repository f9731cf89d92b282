"""Tables as CSV files that any spreadsheet opens; pure."""

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal

from babel.numbers import get_currency_precision

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")


def safe_cell(value: str | int | Decimal | date) -> str:
    """Make a cell safe for spreadsheets: a quote is put before text that begins like a formula.

    Numbers stay numbers, also below zero (OWASP ASVS 5, 1.2.10).
    """
    if not isinstance(value, str):
        return str(value)
    flat = value.replace("\n", " ")
    return f"'{flat}" if flat.lstrip(" ").startswith(FORMULA_SIGNS) else flat


def amount(minor: int, currency: str) -> Decimal:
    """Convert minor units to a decimal with the currency's places: 8500 to 85.00."""
    return Decimal(minor).scaleb(-get_currency_precision(currency))


def as_csv(headings: Sequence[str], rows: Iterable[Sequence[str | int | Decimal | date]]) -> str:
    """Write a table as CSV: commas, CRLF, and a byte-order mark so that spreadsheets read it as UTF-8."""
    out = io.StringIO(newline="")
    out.write("\N{ZERO WIDTH NO-BREAK SPACE}")
    writer = csv.writer(out)
    writer.writerow(headings)
    writer.writerows([[safe_cell(cell) for cell in row] for row in rows])
    return out.getvalue()
