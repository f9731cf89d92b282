"""The paper as a person and an archive read it."""

import re
import subprocess
from datetime import timedelta

import pikepdf
import pytest
from django.urls import reverse
from django.utils import timezone

from orders.invoices import invoice_pdf
from orders.invoices.actions import credit_invoice, issue_invoice
from orders.invoices.models import Invoice
from orders.payments.actions import take_payment
from orders.payments.payment_references import creditor_reference
from orders.prices.models import Price


def in_fours(reference):
    return " ".join(reference[at : at + 4] for at in range(0, len(reference), 4))


def read(made):
    """The text of a PDF with single spaces."""
    return " ".join(pages_of(made))


def pages_of(made):
    """The text of each page, as pdftotext finds it, with single spaces."""
    run = subprocess.run(
        ["pdftotext", "-layout", "-", "-"],  # noqa: S607 - poppler's, wherever it is
        input=made,
        capture_output=True,
        check=True,
    )
    pages = run.stdout.decode().removesuffix("\f").split("\f")
    return [re.sub(r"[ \n]+", " ", page) for page in pages]


def set_total(order, gross_minor):
    """One line of this price, as the check values want it."""
    order.lines.all().delete()
    order.lines.create(label="A cast", unit_minor=gross_minor)


def test_an_unregistered_traders_paper_has_no_vat_on_it(order, press):
    text = read(invoice_pdf.invoice_pdf(issue_invoice(order, **press())))
    assert "Invoice INV-0001" in text
    assert "vat" not in text.lower()
    for words in (
        "Sam Okafor",
        "9 Quay Row",
        "Hollin Casts",
        "Marian Hollin",
        "4 Kiln Yard",
        "01632 960111",
        "Ada, left hand; Ada, right hand; Ada, left foot",
        "Single cast, framed 1 £125.00 £125.00",
        "Total £324.00",
        "To pay £324.00",
        f"Payment reference: {in_fours(creditor_reference(order.job.reference))}",
        f"{timezone.localdate():%-d %B %Y}",
    ):
        assert words in text, words
    # First names only: the family's name stands once, in the customer's.
    assert text.count("Okafor") == 1


@pytest.mark.parametrize(
    ("gross_minor", "vat_words", "net"),
    [
        # TRADE "Check values", 20 % [computed from HMRC VATREC12020, src]
        (19900, "£33.17", "£165.83"),
        (25000, "£41.67", "£208.33"),
        (999, "£1.67", "£8.32"),
        (25200, "£42.00", "£210.00"),
    ],
)
def test_a_registered_traders_paper_shows_the_penny(order, press, vat, gross_minor, vat_words, net):
    vat()
    set_total(order, gross_minor)
    text = read(invoice_pdf.invoice_pdf(issue_invoice(order, **press())))
    assert "VAT number GB 123 4567 89" in text
    assert f"Total before VAT {net}" in text
    assert f"VAT at 20 % of {net} {vat_words}" in text


def test_a_split_payment_shows_its_tax_points(order, press, vat):
    # 19900 = 5000 + 14900 → 833 + 2484, not 2483: the last slice takes the difference.
    vat()
    set_total(order, 19900)
    earlier = timezone.localdate() - timedelta(days=7)
    take_payment(order, amount_minor=5000, method="cash", received_on=earlier, **press())
    text = read(invoice_pdf.invoice_pdf(issue_invoice(order, **press())))
    assert "£50.00 with £8.33 VAT at 20 %" in text
    assert "£149.00 with £24.84 VAT at 20 %" in text
    assert "To pay £149.00" in text


def test_a_line_multiplies_out_before_vat(order, press, vat):
    vat()
    order.lines.all().delete()
    order.lines.create(label="Small plates", quantity=3, unit_minor=333)
    text = read(invoice_pdf.invoice_pdf(issue_invoice(order, **press())))
    assert "Small plates 3 £2.7733 20 % £8.32 £9.99" in text


def test_a_credit_note_names_its_invoice_and_reason(order, press):
    invoice = issue_invoice(order, **press())
    note = credit_invoice(invoice, why="The address was wrong.", **press())
    text = read(invoice_pdf.invoice_pdf(note))
    assert "Credit note CRN-0001" in text
    assert f"It cancels invoice INV-0001 of {invoice.issued_on:%-d %B %Y}." in text
    assert "Reason: The address was wrong." in text
    assert "Credited £324.00" in text
    assert "To pay" not in text


def test_the_same_paper_has_the_same_bytes_after_prices_and_unit_changed(order, press, unit):
    invoice = issue_invoice(order, **press())
    first = invoice_pdf.invoice_pdf(invoice)
    unit.name = "Another name"
    unit.save()
    Price.objects.update(amount_minor=1)
    assert invoice_pdf.invoice_pdf(Invoice.objects.get()) == first


def test_it_is_an_archive_pdf_that_a_screen_reader_can_read(order, press, tmp_path):
    path = tmp_path / "invoice.pdf"
    path.write_bytes(invoice_pdf.invoice_pdf(issue_invoice(order, **press())))
    with pikepdf.open(path) as file:
        with file.open_metadata() as metadata:
            assert (metadata["pdfaid:part"], metadata["pdfaid:conformance"]) == ("3", "A")
            assert metadata["pdfuaid:part"] == "1"
        assert file.Root.MarkInfo.Marked
        assert str(file.Root.Lang) == "en-GB"
        fonts = [font for page in file.pages for font in page.Resources.Font.values()]
        assert fonts
        assert all(_is_embedded(font) for font in fonts)


def _is_embedded(font):
    return "/FontFile2" in font.DescendantFonts[0].FontDescriptor or (
        "/FontFile3" in font.DescendantFonts[0].FontDescriptor
    )


def test_forty_lines_run_over_pages_with_the_number_on_each(order, press):
    for number in range(40):
        order.lines.create(label=f"Plate {number}", unit_minor=100)
    pages = pages_of(invoice_pdf.invoice_pdf(issue_invoice(order, **press())))
    assert len(pages) > 1
    assert all("Invoice INV-0001" in page for page in pages)
    assert all("Quantity" in page for page in pages if "Plate" in page)
    assert sum(page.count("Plate ") for page in pages) == 40


@pytest.mark.parametrize("words", ["木村", "a 🦶", "ﷺ"])
def test_characters_that_the_font_lacks_are_found(words):
    assert invoice_pdf.unprintable({"customer": {"name": words}})


def test_the_letters_of_europe_are_printable():
    names = "Siân Łukasz Žaneta Søren Müller Ñ é ç ő Γιώργος Ольга – “quoted” £ €"
    assert invoice_pdf.unprintable({"names": [names]}) == ""


class TestThePage:
    @pytest.fixture
    def url(self, order, press):
        issue_invoice(order, **press())
        return reverse("orders:invoice_pdf", args=["INV-0001"])

    def test_it_opens_in_the_browser_and_is_kept_by_nobody(self, owner, url):
        answer = owner.get(url)
        assert answer.status_code == 200
        assert answer["Content-Type"] == "application/pdf"
        assert answer["Content-Disposition"] == 'inline; filename="INV-0001.pdf"'
        assert "no-store" in answer["Cache-Control"]
        assert answer.content.startswith(b"%PDF-")

    def test_helpers_strangers_and_posts_are_kept_out(self, url, helper, stranger, owner):
        assert helper.get(url).status_code == 403
        assert stranger.get(url).status_code == 404
        assert owner.post(url).status_code == 405
