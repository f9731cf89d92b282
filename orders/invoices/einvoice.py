"""An issued paper as EN 16931 data: CII XML, the content of a Factur-X file; pure.

The syntax is UN/CEFACT Cross Industry Invoice D16B, the rules are CEN's EN 16931 artefacts 1.3.16
of Factur-X 1.09 [src]; tests/orders/invoices/test_einvoice.py checks each kind of paper against
both. A seller who is not registered for VAT uses category O, "not subject to VAT", without a rate
or VAT number. Money received before the registration, on a paper that also has VAT, is category E,
because O must not be combined with another (rule BR-O-11). Reductions are allowances of the
document.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from babel.numbers import get_currency_precision
from lxml import etree

from orders.prices import vat

FILE_NAME = "factur-x.xml"

CONFORMANCE = "EN 16931"

_GUIDELINE = "urn:cen.eu:en16931:2017"

_INVOICE, _CREDIT_NOTE = "380", "381"

_PIECE = "C62"

_NOT_SUBJECT = "The seller is not registered: no tax is charged."

_BEFORE = "Received before the seller was registered."

_UN = "urn:un:unece:uncefact:data:standard:"

_SPACES = {
    "rsm": f"{_UN}CrossIndustryInvoice:100",
    "ram": f"{_UN}ReusableAggregateBusinessInformationEntity:100",
    "udt": f"{_UN}UnqualifiedDataType:100",
    "qdt": f"{_UN}QualifiedDataType:100",
}

_ADDRESS_LINES = ("LineOne", "LineTwo", "LineThree")

Content = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class _Group:
    """One VAT category and rate, in minor units; `percent` is None for category O."""

    category: str
    percent: str | None
    net_minor: int
    vat_minor: int
    why: str = ""


def xml(content: Content) -> bytes:
    """Return the XML of a frozen content of `invoice_content`, the same bytes for the same content.

    Raises ValueError for a control character in a name or label.
    """
    root = etree.Element(f"{{{_SPACES['rsm']}}}CrossIndustryInvoice", nsmap=_SPACES)
    _add_text(
        root,
        "rsm:ExchangedDocumentContext/ram:GuidelineSpecifiedDocumentContextParameter/ram:ID",
        _GUIDELINE,
    )
    document = _add(root, "rsm:ExchangedDocument")
    _add_text(document, "ram:ID", content["number"])
    _add_text(document, "ram:TypeCode", _CREDIT_NOTE if content["kind"] == "credit" else _INVOICE)
    _day(_add(document, "ram:IssueDateTime"), content["issued_on"])
    if content.get("why"):
        _add_text(document, "ram:IncludedNote/ram:Content", content["why"])
    deal = _add(root, "rsm:SupplyChainTradeTransaction")
    format_amount = _AmountFormat(content["currency"])
    groups = _groups(content)
    lines, allowances = _shared(content, groups)
    for number, line in enumerate(lines, 1):
        _line(deal, number, *line, format_amount=format_amount)
    _agreement(deal, content)
    delivery = _add(deal, "ram:ApplicableHeaderTradeDelivery")
    supply = _add(delivery, "ram:ActualDeliverySupplyChainEvent/ram:OccurrenceDateTime")
    _day(supply, content["supplied_on"])
    settlement = _add(deal, "ram:ApplicableHeaderTradeSettlement")
    _settle(settlement, content, groups, allowances, format_amount)
    _sums(settlement, content, [line[3] for line in lines], allowances, format_amount)
    if of := content.get("credits"):
        earlier = _add(settlement, "ram:InvoiceReferencedDocument")
        _add_text(earlier, "ram:IssuerAssignedID", of["number"])
        _day(_add(earlier, "ram:FormattedIssueDateTime"), of["issued_on"], "qdt")
    return bytes(etree.tostring(root, xml_declaration=True, encoding="UTF-8", pretty_print=True))


class _AmountFormat:
    """Format minor units as decimals of the currency."""

    def __init__(self, currency: str) -> None:
        self.currency, self.decimals = currency, get_currency_precision(currency)

    def __call__(self, minor: int) -> str:
        return f"{Decimal(minor).scaleb(-self.decimals):f}"


def _groups(content: Content) -> list[_Group]:
    if "taxes" not in content:
        return [_Group("O", None, content["total_minor"], 0, _NOT_SUBJECT)]
    return [
        _Group("E", "0", tax["net_minor"], 0, _BEFORE)
        if tax["percent"] is None
        else _Group(
            "S" if Decimal(tax["percent"]) else "Z",
            tax["percent"],
            tax["net_minor"],
            tax["vat_minor"],
        )
        for tax in content["taxes"]
    ]


def _shared(
    content: Content, groups: Sequence[_Group]
) -> tuple[list[tuple[str, int, _Group, int]], list[tuple[str, _Group, int]]]:
    """Split the content into lines (label, quantity, group, net) and allowances (reason, group,
    net).

    Each group has its share of every line, and the shares add up to the group's net amount.
    """
    rows = content["lines"]
    lines: list[tuple[str, int, _Group, int]] = []
    allowances: list[tuple[str, _Group, int]] = []
    for group in groups:
        parts = vat.nets([row["gross_minor"] for row in rows], group.net_minor)
        for row, net_minor in zip(rows, parts, strict=True):
            if row["gross_minor"] < 0:
                allowances.append((row["label"], group, -net_minor))
            elif len(groups) == 1:
                lines.append((row["label"], row["quantity"], group, net_minor))
            else:
                label = f"{row['quantity']} × {row['label']}, part at {group.percent} %"
                lines.append((label, 1, group, net_minor))
    return lines, allowances


def _line(
    deal: Any,
    number: int,
    label: str,
    quantity: int,
    group: _Group,
    net_minor: int,
    *,
    format_amount: _AmountFormat,
) -> None:
    item = _add(deal, "ram:IncludedSupplyChainTradeLineItem")
    _add_text(item, "ram:AssociatedDocumentLineDocument/ram:LineID", str(number))
    _add_text(item, "ram:SpecifiedTradeProduct/ram:Name", label)
    price = _add(item, "ram:SpecifiedLineTradeAgreement/ram:NetPriceProductTradePrice")
    # The price of the whole quantity, so that it multiplies out to the penny.
    _add_text(price, "ram:ChargeAmount", format_amount(net_minor))
    _add_text(price, "ram:BasisQuantity", str(quantity), unitCode=_PIECE)
    _add_text(
        item, "ram:SpecifiedLineTradeDelivery/ram:BilledQuantity", str(quantity), unitCode=_PIECE
    )
    settlement = _add(item, "ram:SpecifiedLineTradeSettlement")
    _category(_add(settlement, "ram:ApplicableTradeTax"), group)
    total = _add(settlement, "ram:SpecifiedTradeSettlementLineMonetarySummation")
    _add_text(total, "ram:LineTotalAmount", format_amount(net_minor))


def _agreement(deal: Any, content: Content) -> None:
    agreement = _add(deal, "ram:ApplicableHeaderTradeAgreement")
    seller, customer = content["seller"], content["customer"]
    vat_number = vat_id(seller.get("vat_number", ""), seller.get("country", "GB"))
    party = _add(agreement, "ram:SellerTradeParty")
    if not vat_number:  # rule BR-CO-26 wants one thing by which the seller is known
        _add_text(party, "ram:ID", seller["email"])
    _add_text(party, "ram:Name", seller["trader_name"])
    _add_text(party, "ram:SpecifiedLegalOrganization/ram:TradingBusinessName", seller["name"])
    contact = _add(party, "ram:DefinedTradeContact")
    _add_text(contact, "ram:PersonName", seller["trader_name"])
    _add_text(contact, "ram:TelephoneUniversalCommunication/ram:CompleteNumber", seller["phone"])
    _add_text(contact, "ram:EmailURIUniversalCommunication/ram:URIID", seller["email"])
    _address(party, seller)
    if vat_number:
        _add_text(party, "ram:SpecifiedTaxRegistration/ram:ID", vat_number, schemeID="VA")
    buyer = _add(agreement, "ram:BuyerTradeParty")
    _add_text(buyer, "ram:Name", customer["name"])
    _address(buyer, customer)
    _add_text(
        agreement, "ram:BuyerOrderReferencedDocument/ram:IssuerAssignedID", content["reference"]
    )


def _address(party: Any, facts: Content) -> None:
    address = _add(party, "ram:PostalTradeAddress")
    *street, town = facts["address"]
    if facts["postcode"]:
        _add_text(address, "ram:PostcodeCode", facts["postcode"])
    if len(street) > len(_ADDRESS_LINES):
        street = [*street[:2], ", ".join(street[2:])]
    for name, words in zip(_ADDRESS_LINES, street, strict=False):
        _add_text(address, f"ram:{name}", words)
    _add_text(address, "ram:CityName", town)
    _add_text(address, "ram:CountryID", facts.get("country", "GB"))


def _settle(
    settlement: Any,
    content: Content,
    groups: Sequence[_Group],
    allowances: Sequence[tuple[str, _Group, int]],
    format_amount: _AmountFormat,
) -> None:
    _add_text(
        settlement, "ram:PaymentReference", content.get("payment_reference", content["number"])
    )
    _add_text(settlement, "ram:InvoiceCurrencyCode", format_amount.currency)
    for group in groups:
        tax = _add(settlement, "ram:ApplicableTradeTax")
        _add_text(tax, "ram:CalculatedAmount", format_amount(group.vat_minor))
        _add_text(tax, "ram:TypeCode", "VAT")
        if group.why:
            _add_text(tax, "ram:ExemptionReason", group.why)
        _add_text(tax, "ram:BasisAmount", format_amount(group.net_minor))
        _add_text(tax, "ram:CategoryCode", group.category)
        if group.percent is not None:
            _add_text(tax, "ram:RateApplicablePercent", group.percent)
    for reason, group, net_minor in allowances:
        allowance = _add(settlement, "ram:SpecifiedTradeAllowanceCharge")
        _add_text(allowance, "ram:ChargeIndicator/udt:Indicator", "false")
        _add_text(allowance, "ram:ActualAmount", format_amount(net_minor))
        _add_text(allowance, "ram:Reason", reason)
        _category(_add(allowance, "ram:CategoryTradeTax"), group)
    if "balance_minor" in content:
        terms = _add(settlement, "ram:SpecifiedTradePaymentTerms")
        if content.get("payment_words"):
            _add_text(terms, "ram:Description", content["payment_words"])
        _day(_add(terms, "ram:DueDateDateTime"), content.get("due_on", content["issued_on"]))


def _sums(
    settlement: Any,
    content: Content,
    nets: Sequence[int],
    allowances: Sequence[tuple[str, _Group, int]],
    format_amount: _AmountFormat,
) -> None:
    total_minor, vat_minor = content["total_minor"], content.get("vat_minor", 0)
    sums = _add(settlement, "ram:SpecifiedTradeSettlementHeaderMonetarySummation")
    _add_text(sums, "ram:LineTotalAmount", format_amount(sum(nets)))
    if allowances:
        _add_text(
            sums, "ram:AllowanceTotalAmount", format_amount(sum(minor for *_, minor in allowances))
        )
    _add_text(sums, "ram:TaxBasisTotalAmount", format_amount(total_minor - vat_minor))
    _add_text(
        sums, "ram:TaxTotalAmount", format_amount(vat_minor), currencyID=format_amount.currency
    )
    _add_text(sums, "ram:GrandTotalAmount", format_amount(total_minor))
    if content.get("paid_minor"):
        _add_text(sums, "ram:TotalPrepaidAmount", format_amount(content["paid_minor"]))
    _add_text(
        sums, "ram:DuePayableAmount", format_amount(content.get("balance_minor", total_minor))
    )


def vat_id(number: str, country: str) -> str:
    """Return a VAT number as EN 16931 requires it, with country prefix and without spaces; "" for
    none.
    """
    bare = re.sub(r"[^0-9A-Z]", "", number.upper())
    prefix = "EL" if country == "GR" else country
    return bare if not bare or bare[:2].isalpha() else f"{prefix}{bare}"


def _category(tax: Any, group: _Group) -> None:
    _add_text(tax, "ram:TypeCode", "VAT")
    _add_text(tax, "ram:CategoryCode", group.category)
    if group.percent is not None:
        _add_text(tax, "ram:RateApplicablePercent", group.percent)


def _day(parent: Any, iso: str, space: str = "udt") -> None:
    _add_text(parent, f"{space}:DateTimeString", iso.replace("-", ""), format="102")


def _add_text(parent: Any, path: str, words: str, **attributes: str) -> None:
    element = _add(parent, path)
    element.text = words
    for name, value in attributes.items():
        element.set(name, value)


def _add(parent: Any, path: str) -> Any:
    """Add an element at the end of a path, with the elements that lead to it."""
    for step in path.split("/"):
        space, name = step.split(":")
        parent = etree.SubElement(parent, f"{{{_SPACES[space]}}}{name}")
    return parent
