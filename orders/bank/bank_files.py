"""Read bank statements: CSV with a map of its columns, OFX (1 and 2), ISO 20022 camt.053.

All three formats give the same lines. Nothing is fetched and no XML entity is expanded. A file that
cannot be read completely gives no lines and an error that says where it failed.
"""

import csv
import hashlib
import html
import io
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from itertools import count

from babel.numbers import get_currency_precision
from lxml import etree

from studio.money import LARGEST_MINOR

LARGEST_BYTES = 20_000_000

LONGEST_HEADING = 80

MOST_LINES = 50_000

DATE_FORMS = {
    "%d/%m/%Y": "31/12/2026",
    "%Y-%m-%d": "2026-12-31",
    "%d.%m.%Y": "31.12.2026",
    "%d %b %Y": "31 Dec 2026",
    "%d-%m-%Y": "31-12-2026",
    "%m/%d/%Y": "12/31/2026",
}


@dataclass(frozen=True, slots=True)
class Line:
    """One booking on the account, in minor units; above zero for incoming money."""

    booked_on: date
    amount_minor: int
    words: str
    """The payer's text: where a reference is looked for."""
    name: str = ""
    bank_id: str = ""
    """The bank's own mark of the booking, where the file has one."""
    fingerprint: str = ""
    """Set by `read`: the same booking in the same or an overlapping file has the same one."""


@dataclass(frozen=True, slots=True)
class Columns:
    """The headings of a bank's CSV columns; one column of amounts, or one each for in and out."""

    booked_on: str
    words: str
    amount: str = ""
    money_in: str = ""
    money_out: str = ""
    name: str = ""
    date_form: str = "%d/%m/%Y"


class Unreadable(ValueError):
    """The file cannot be read; the message says where, and what to do."""


def kind_of(data: bytes) -> str:
    """Detect the format from the content, not the name: "camt", "ofx" or "csv"."""
    head = data[:2000].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if b"camt.053" in head:
        return "camt"
    if head.startswith(b"ofxheader") or b"<ofx>" in head:
        return "ofx"
    return "csv"


def read(data: bytes, *, currency: str, columns: Columns | None = None) -> list[Line]:
    """Return the lines of a statement, each with its fingerprint; CSV needs `columns`.

    Raises Unreadable, also for a file in another currency.
    """
    if len(data) > LARGEST_BYTES:
        raise Unreadable("This file is larger than 20 MB: export a shorter period.")
    kind = kind_of(data)
    if kind == "csv":
        if columns is None:
            raise Unreadable("Say first which column holds what.")
        lines = read_csv(data, columns, currency)
    else:
        lines = (read_camt if kind == "camt" else read_ofx)(data, currency)
    found = list(lines)
    if len(found) > MOST_LINES:
        raise Unreadable(f"This file holds more than {MOST_LINES} lines: export a shorter period.")
    return with_fingerprints(found)


def with_fingerprints(lines: Sequence[Line]) -> list[Line]:
    """Add to each line a digest of its booking; equal bookings of one day are numbered to differ."""
    seen: Counter[tuple[str, ...]] = Counter()
    marked = []
    for line in lines:
        what = (
            line.booked_on.isoformat(),
            str(line.amount_minor),
            " ".join(line.words.split()).casefold(),
            " ".join(line.name.split()).casefold(),
            line.bank_id,
        )
        seen[what] += 1
        digest = hashlib.sha256("\x1f".join([*what, str(seen[what])]).encode()).hexdigest()
        marked.append(replace(line, fingerprint=digest))
    return marked


def headings(data: bytes) -> list[str]:
    """Return the headings of a CSV: the first line with at least three filled cells.

    Long headings are cut to LONGEST_HEADING characters, repeated ones are numbered.
    """
    rows, start = _table(data)
    return _heads(rows[start])


def first_rows(data: bytes, most: int = 5) -> list[list[str]]:
    """Return the first rows below the headings, as examples for choosing the columns."""
    rows, start = _table(data)
    return [row for row in rows[start + 1 :] if any(cell.strip() for cell in row)][:most]


def read_csv(data: bytes, columns: Columns, currency: str) -> Iterator[Line]:
    """Yield the lines of a CSV, without empty rows. Raises Unreadable."""
    rows, start = _table(data)
    at = {head: place for place, head in enumerate(_heads(rows[start]))}
    wanted = (columns.booked_on, columns.words, columns.amount or columns.money_in)
    if missing := [name for name in wanted if name not in at]:
        raise Unreadable(f"This file has no column “{missing[0] or 'amount'}”: choose again.")
    for number, row in enumerate(rows[start + 1 :], start + 2):
        if any(cell.strip() for cell in row):
            cells = {head: row[place].strip() for head, place in at.items() if place < len(row)}
            try:
                yield _csv_line(cells, columns, currency)
            except ValueError as wrong:
                raise Unreadable(f"Line {number} of the file: {wrong}") from None


def _csv_line(cells: dict[str, str], columns: Columns, currency: str) -> Line:
    if columns.amount:
        amount_minor = minor_of(cells.get(columns.amount, ""), currency)
    else:
        came, went = cells.get(columns.money_in, ""), cells.get(columns.money_out, "")
        amount_minor = abs(minor_of(came or "0", currency)) - abs(minor_of(went or "0", currency))
    return Line(
        booked_on=_day(cells.get(columns.booked_on, ""), columns.date_form),
        amount_minor=amount_minor,
        words=cells.get(columns.words, ""),
        name=cells.get(columns.name, "") if columns.name else "",
    )


def _heads(row: Sequence[str]) -> list[str]:
    found: list[str] = []
    for cell in row:
        head = cell.strip()[:LONGEST_HEADING]
        named = (f"{head[: LONGEST_HEADING - 6]} ({number})" for number in count(2))
        if head and head in found:
            head = next(name for name in named if name not in found)
        found.append(head)
    return found


def _table(data: bytes) -> tuple[list[list[str]], int]:
    text = _text(data)
    if "\0" in text:
        raise Unreadable(
            "This is not a table of text: export the statement as CSV, OFX or camt.053."
        )
    head = "\n".join(text.splitlines()[:20])
    separator = max(",;\t", key=head.count)
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True))
    except csv.Error as wrong:
        raise Unreadable(f"This table cannot be read: {wrong}.") from None
    for place, row in enumerate(rows):
        if sum(1 for cell in row if cell.strip()) >= 3:  # noqa: PLR2004 - day, words, amount
            return rows, place
    raise Unreadable("No headings were found in this file: it needs day, words and amount.")


def _text(data: bytes) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def _day(text: str, form: str) -> date:
    try:
        return datetime.strptime(text, form).date()  # noqa: DTZ007 - a bank's day has no time zone
    except ValueError:
        raise ValueError(f"“{text}” is no day written like {DATE_FORMS.get(form, form)}.") from None


_PLAIN_AMOUNT = re.compile(r"[+-]?\d+(\.\d+)?", re.ASCII)


def minor_of(text: str, currency: str) -> int:
    """Parse a bank's amount into minor units: "1,234.50", "1.234,50", "-5", "(5.00)", "£5.00 CR",
    "5.00 DR".

    Raises ValueError if it is not an amount, has more decimals than the currency, or is implausibly
    large.
    """
    bare = re.sub(r"[^\d,.()+\-A-Za-z\N{MINUS SIGN}]", "", text).replace("\N{MINUS SIGN}", "-")
    negative = bare.startswith("(") or bare.upper().endswith(("DR", "DB")) or bare.endswith("-")
    digits = re.sub(r"[A-Za-z()]", "", bare).removesuffix("-")
    comma, dot = digits.rfind(","), digits.rfind(".")
    if comma > dot and len(digits) - comma - 1 != 3:  # noqa: PLR2004 - a group of thousands
        digits = digits.replace(".", "").replace(",", ".")
    else:
        digits = digits.replace(",", "")
    if not _PLAIN_AMOUNT.fullmatch(digits):
        raise ValueError(f"“{text}” is no amount of money.")
    scaled = Decimal(digits).scaleb(get_currency_precision(currency))
    minor = int(scaled)
    if minor != scaled:
        raise ValueError(f"“{text}” has more decimals than {currency}.")
    if abs(minor) > LARGEST_MINOR:
        raise ValueError(f"“{text}” is more than any account of ours holds.")
    return -abs(minor) if negative else minor


def read_camt(data: bytes, currency: str) -> Iterator[Line]:
    """Yield the booked entries of an ISO 20022 statement of any version; each transaction of a
    batch is a line.
    """
    root = _xml(data)
    for entry in root.iterfind(".//{*}Ntry"):
        status = _first(entry, "{*}Sts/{*}Cd", "{*}Sts")
        if status not in ("", "BOOK"):
            continue  # only announced: it comes again when it is booked
        details = entry.findall("{*}NtryDtls/{*}TxDtls")
        try:
            if len(details) > 1 and all(each.find("{*}Amt") is not None for each in details):
                yield from (_camt_line(entry, each, each, currency) for each in details)
            else:
                yield _camt_line(entry, entry, details[0] if details else entry, currency)
        except ValueError as wrong:
            raise Unreadable(f"An entry of the statement: {wrong}") from None


def _camt_line(
    entry: etree._Element, amount_of: etree._Element, details: etree._Element, currency: str
) -> Line:
    amount = amount_of.find("{*}Amt")
    if amount is None or not amount.text:
        raise ValueError("it has no amount.")
    if amount.get("Ccy") != currency:
        raise ValueError(f"it is in {amount.get('Ccy')}, the studio works in {currency}.")
    came = (_first(details, "{*}CdtDbtInd") or _first(entry, "{*}CdtDbtInd")) == "CRDT"
    minor = minor_of(amount.text, currency)
    side = "Dbtr" if came else "Cdtr"
    words = [_first(details, ".//{*}CdtrRefInf/{*}Ref")]
    words += [each.text or "" for each in details.iterfind(".//{*}RmtInf/{*}Ustrd")]
    words += [_first(details, ".//{*}EndToEndId")] if not any(words) else []
    day = _first(entry, "{*}BookgDt/{*}Dt", "{*}BookgDt/{*}DtTm", "{*}ValDt/{*}Dt")
    return Line(
        booked_on=_day(day[:10], "%Y-%m-%d"),
        amount_minor=minor if came else -minor,
        words=" ".join(word.strip() for word in words if word.strip()),
        name=_first(details, f".//{{*}}RltdPties/{{*}}{side}//{{*}}Nm"),
        bank_id=_first(details, ".//{*}Refs/{*}AcctSvcrRef") or _first(entry, "{*}AcctSvcrRef"),
    )


def _first(element: etree._Element, *paths: str) -> str:
    for path in paths:
        found = element.find(path)
        if found is not None and (text := (found.text or "").strip()):
            return text
    return ""


def _xml(data: bytes) -> etree._Element:
    parser = etree.XMLParser(
        resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False
    )
    try:
        return etree.fromstring(data, parser)
    except etree.XMLSyntaxError as wrong:
        raise Unreadable(f"This file is broken off or no statement: {wrong.msg}.") from None


_TRANSACTION = re.compile(r"<STMTTRN>(.*?)</STMTTRN>", re.DOTALL | re.IGNORECASE)

_FIELD = re.compile(r"<([A-Z0-9.]+)>([^<\r\n]*)", re.IGNORECASE)


def read_ofx(data: bytes, currency: str) -> Iterator[Line]:
    """Yield the transactions of OFX 1 (SGML, closing tags may be missing) and OFX 2 (XML)."""
    text = _text(data)
    if text.upper().count("<STMTTRN>") != text.upper().count("</STMTTRN>"):
        raise Unreadable("This file is broken off in the middle of a booking: export it again.")
    for code in re.findall(r"<CURDEF>\s*([A-Z]{3})", text, re.IGNORECASE):
        if code.upper() != currency:
            raise Unreadable(f"This statement is in {code}, the studio works in {currency}.")
    for number, found in enumerate(_TRANSACTION.finditer(text), 1):
        fields = {
            name.upper(): html.unescape(value.strip()) for name, value in _FIELD.findall(found[1])
        }
        try:
            yield Line(
                booked_on=_day(fields.get("DTPOSTED", "")[:8], "%Y%m%d"),
                amount_minor=minor_of(fields.get("TRNAMT", ""), currency),
                words=" ".join(filter(None, [fields.get("MEMO", ""), fields.get("CHECKNUM", "")])),
                name=fields.get("NAME", ""),
                bank_id=fields.get("FITID", ""),
            )
        except (ValueError, InvalidOperation) as wrong:
            raise Unreadable(f"Booking {number} of the file: {wrong}") from None


def only_in(lines: Iterable[Line]) -> list[Line]:
    """Return the lines of incoming money."""
    return [line for line in lines if line.amount_minor > 0]
