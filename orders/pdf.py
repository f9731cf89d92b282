"""An issued paper as a PDF that can be kept: PDF/A-3a and PDF/UA-1, the same bytes each time.

It is written from the frozen content alone, so it says tomorrow what it says today.
"""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

from babel.numbers import format_currency
from django.conf import settings

from orders.models import Invoice
from orders.papers import texts
from studio import money, paper

# Kept papers are read for years: about 0.2 s and 20 KB a page, written anew when asked for.
VARIANT = "pdf/a-3a"
FONT = "vendor/source-sans-3/SourceSans3_400Regular.ttf"


def invoice_pdf(invoice: Invoice) -> bytes:
    """The PDF of an invoice or a credit note. No query."""
    return paper.pdf("paper/invoice.html", {"paper": _readable(invoice.content)}, variant=VARIANT)


def unprintable(content: Mapping[str, Any]) -> str:
    """The characters of a content that our font lacks: an archive PDF must hold every glyph."""
    used = {char for text in texts(content) for char in text} - set("\r\n")
    return "".join(sorted(char for char in used if ord(char) not in _glyphs()))


def _readable(content: Mapping[str, Any]) -> dict[str, Any]:
    """The content with days as dates and what the template would have to work out."""
    shown: dict[str, Any] = _with_dates(content)
    shown["has_vat"] = "vat_minor" in content
    for line in shown["lines"]:
        if "net_minor" in line:
            line["unit_net"] = _unit_net(line, content["currency"])
    if shown["has_vat"]:
        shown["mixed"] = len(content["taxes"]) > 1
        shown["points"] = [
            point | {"percent": tax["percent"]} for tax in shown["taxes"] for point in tax["points"]
        ]
    return shown


def _with_dates(value: Any, name: str = "") -> Any:
    if isinstance(value, Mapping):
        return {key: _with_dates(each, key) for key, each in value.items()}
    if isinstance(value, list):
        return [_with_dates(each) for each in value]
    return date.fromisoformat(value) if name == "on" or name.endswith("_on") else value


def _unit_net(line: Mapping[str, Any], currency: str) -> str:
    """The price of one without VAT; parts of a penny are shown, so that the line multiplies out."""
    each = Decimal(line["net_minor"]) / line["quantity"] / 100
    return format_currency(
        each,
        currency,
        format="¤#,##0.00##;-¤#,##0.00##",
        locale=money.LOCALE,
        currency_digits=False,
    )


@cache
def _glyphs() -> frozenset[int]:
    # Loading it takes time, and issuing is seldom.
    from fontTools.ttLib import TTFont  # type: ignore[import-untyped]  # noqa: PLC0415

    with TTFont(Path(settings.BASE_DIR) / "static" / FONT) as font:
        return frozenset(font.getBestCmap())
