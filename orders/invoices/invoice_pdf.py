"""Render an issued paper as an archive PDF: PDF/A-3a and PDF/UA-1 with embedded EN 16931 data.

It is rendered from the frozen content alone, always to the same bytes; `archived_pdf` stores them.
"""

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

from babel.numbers import format_currency, get_currency_precision
from django.conf import settings
from django.utils.translation import gettext as _

from orders.invoices import einvoice
from orders.invoices.models import Invoice
from orders.payments.payment_references import in_fours
from orders.quotes.frozen_content import texts, with_dates
from studio import money
from studio.web import paper

VARIANT = "pdf/a-3a"

FONT = "vendor/source-sans-3/SourceSans3_400Regular.ttf"

_FACTUR_X = """
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"
  xmlns:fx="urn:factur-x:pdfa:CrossIndustryDocument:invoice:1p0#"
  xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/"
  xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#"
  xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#">
<rdf:Description rdf:about=""><fx:DocumentType>INVOICE</fx:DocumentType>
<fx:DocumentFileName>{name}</fx:DocumentFileName><fx:Version>1.0</fx:Version>
<fx:ConformanceLevel>{level}</fx:ConformanceLevel></rdf:Description>
<rdf:Description rdf:about=""><pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">
<pdfaSchema:schema>Factur-X PDFA Extension Schema</pdfaSchema:schema>
<pdfaSchema:namespaceURI>urn:factur-x:pdfa:CrossIndustryDocument:invoice:1p0#</pdfaSchema:namespaceURI>
<pdfaSchema:prefix>fx</pdfaSchema:prefix><pdfaSchema:property><rdf:Seq>{properties}</rdf:Seq></pdfaSchema:property>
</rdf:li></rdf:Bag></pdfaExtension:schemas></rdf:Description>
</rdf:RDF>"""

_PROPERTY = """<rdf:li rdf:parseType="Resource"><pdfaProperty:name>{name}</pdfaProperty:name>
<pdfaProperty:valueType>Text</pdfaProperty:valueType><pdfaProperty:category>external</pdfaProperty:category>
<pdfaProperty:description>{words}</pdfaProperty:description></rdf:li>"""

_PROPERTIES = {
    "DocumentFileName": "The name of the embedded XML document",
    "DocumentType": "The type of the hybrid document in capital letters",
    "Version": "The version of the standard that applies to the embedded XML document",
    "ConformanceLevel": "The conformance level of the embedded XML document",
}


def invoice_pdf(invoice: Invoice) -> bytes:
    """Render the PDF of an invoice or credit note. No query."""
    return render_pdf(invoice.content)


def render_pdf(content: Mapping[str, Any]) -> bytes:
    """Render a frozen content as a PDF with its EN 16931 data embedded as factur-x.xml."""
    from weasyprint import Attachment  # noqa: PLC0415 - loading it takes a second

    on = datetime.fromisoformat(content["issued_on"])
    data = Attachment(
        string=einvoice.xml(content).decode(),
        name=einvoice.FILE_NAME,
        description="EN 16931 data of this paper",
        created=on,
        modified=on,
        relationship="Alternative",
    )
    name = _("Credit note %(number)s") if "credits" in content else _("Invoice %(number)s")
    return paper.pdf(
        "paper/invoice.html",
        {"paper": _readable(content), "paper_name": name % {"number": content["number"]}},
        variant=VARIANT,
        attachments=[data],
        xmp=[_factur_x()],
    )


def receipt_pdf(content: Mapping[str, Any]) -> bytes:
    """Render the PDF of a receipt from its frozen content."""
    name = _("Receipt %(number)s") % {"number": content["number"]}
    context = {"paper": with_dates(content), "paper_name": name}
    return paper.pdf("paper/receipt.html", context, variant=VARIANT)


def unprintable(content: Mapping[str, Any]) -> str:
    """Return the characters of a content that the font lacks; an archive PDF needs every glyph."""
    used = {char for text in texts(content) for char in text} - set("\r\n")
    return "".join(sorted(char for char in used if ord(char) not in _glyphs()))


def _readable(content: Mapping[str, Any]) -> dict[str, Any]:
    """Return the content with dates, and with values that the template cannot compute."""
    shown: dict[str, Any] = with_dates(content)
    shown["in_fours"] = in_fours(content.get("payment_reference", content["number"]))
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


def _unit_net(line: Mapping[str, Any], currency: str) -> str:
    """Format the unit price excl. VAT, with fractions of a penny so that it multiplies out."""
    decimals = get_currency_precision(currency)
    each = (Decimal(line["net_minor"]) / line["quantity"]).scaleb(-decimals)
    return format_currency(
        each,
        currency,
        format="¤#,##0.00##;-¤#,##0.00##",
        locale=money.LOCALE,
        currency_digits=False,
    )


@cache
def _factur_x() -> bytes:
    properties = "".join(
        _PROPERTY.format(name=name, words=words) for name, words in _PROPERTIES.items()
    )
    return _FACTUR_X.format(
        name=einvoice.FILE_NAME, level=einvoice.CONFORMANCE, properties=properties
    ).encode()


@cache
def _glyphs() -> frozenset[int]:
    # Slow to load, and needed only when a paper is issued.
    from fontTools.ttLib import TTFont  # type: ignore[import-untyped]  # noqa: PLC0415

    with TTFont(Path(settings.BASE_DIR) / "static" / FONT) as font:
        return frozenset(font.getBestCmap())
