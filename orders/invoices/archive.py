"""The archive of issued papers: the PDF of an invoice as it was first written."""

import hashlib
from datetime import datetime

from orders.invoices import invoice_pdf
from orders.invoices.models import Invoice, InvoicePdf
from orders.quotes import frozen_content
from studio.stages import ActionRefused


class PaperSpoiled(ActionRefused):
    """What is kept is not what was issued: somebody or something changed the database."""


def keep_pdf(invoice: Invoice, *, at: datetime) -> bytes:
    """The PDF of an issued paper: the kept one, or written now and kept. Call it outside the
    transaction that issues: it takes a fifth of a second.

    Raises PaperSpoiled where the kept PDF or the content does not match the digests of its issue.
    """
    kept = InvoicePdf.objects.filter(invoice=invoice).first()
    if kept is None:
        written = invoice_pdf.invoice_pdf(invoice)
        kept, _ = InvoicePdf.objects.get_or_create(
            invoice=invoice,
            defaults={
                "pdf": written,
                "sha256": hashlib.sha256(written).hexdigest(),
                "content_sha256": frozen_content.digest(invoice.content),
                "made_at": at,
            },
        )
    return whole_pdf(invoice, kept)


def whole_pdf(invoice: Invoice, kept: InvoicePdf) -> bytes:
    """The bytes of a kept PDF. Raises PaperSpoiled."""
    written = bytes(kept.pdf)
    for found, digest, what in (
        (hashlib.sha256(written).hexdigest(), kept.sha256, "The kept PDF"),
        (frozen_content.digest(invoice.content), kept.content_sha256, "The content"),
    ):
        if found != digest:
            raise PaperSpoiled(
                f"{what} of {invoice.number} is not what was issued: its digest differs. "
                "Bring the paper back from a back-up, and find out what changed the database."
            )
    return written
