"""The invoice's PDF carries its EN 16931 data as Factur-X 1.09 wants it."""

import io

import facturx
import pikepdf
from lxml import etree

from orders.invoices import einvoice, invoice_pdf
from orders.invoices.actions import issue_invoice


class TestEmbedded:
    def test_the_pdf_carries_the_xml_as_factur_x_wants_it(self, order, press, vat):
        vat()
        invoice = issue_invoice(order, **press())
        with pikepdf.open(io.BytesIO(invoice_pdf.invoice_pdf(invoice))) as file:
            (attached,) = file.attachments.values()
            assert attached.filename == "factur-x.xml"
            assert attached.relationship == pikepdf.Name.Alternative
            assert attached.get_file().mime_type in ("text/xml", "application/xml")
            assert attached.get_file().read_bytes() == einvoice.xml(invoice.content)
            assert len(file.Root.AF) == 1
            with file.open_metadata() as metadata:
                fx = "{urn:factur-x:pdfa:CrossIndustryDocument:invoice:1p0#}"
                assert metadata[f"{fx}ConformanceLevel"] == "EN 16931"
                assert metadata[f"{fx}DocumentFileName"] == "factur-x.xml"
                assert metadata[f"{fx}DocumentType"] == "INVOICE"
                assert metadata["pdfaid:part"] == "3"

    def test_what_a_reader_of_such_files_gets_out_of_it(self, order, press):
        invoice = issue_invoice(order, **press())
        name, xml = facturx.get_xml_from_pdf(invoice_pdf.invoice_pdf(invoice), check_xsd=True)
        assert name == "factur-x.xml"
        assert facturx.get_level(etree.fromstring(xml)) == "en16931"

    def test_the_same_paper_has_the_same_bytes(self, order, press):
        invoice = issue_invoice(order, **press())
        assert invoice_pdf.invoice_pdf(invoice) == invoice_pdf.invoice_pdf(invoice)
