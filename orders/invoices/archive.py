"""The archive of issued papers: each PDF is stored once, with digests that detect changes."""

import hashlib
from datetime import datetime

from orders.invoices import invoice_pdf
from orders.invoices.models import Invoice, InvoicePdf
from orders.quotes import frozen_content
from studio.stages import ActionRefused


class ArchiveMismatch(ActionRefused):
    """A stored PDF or content does not match its digest, because the database was changed."""


def archived_pdf(invoice: Invoice, *, at: datetime) -> bytes:
    """Return the stored PDF of an issued paper; the first call renders and stores it.

    Call it outside the transaction that issues the paper, because rendering takes 0.2 s. Raises
    ArchiveMismatch if PDF or content do not match the stored digests.
    """
    archived = InvoicePdf.objects.filter(invoice=invoice).first()
    if archived is None:
        pdf = invoice_pdf.invoice_pdf(invoice)
        archived, _ = InvoicePdf.objects.get_or_create(
            invoice=invoice,
            defaults={
                "pdf": pdf,
                "sha256": hashlib.sha256(pdf).hexdigest(),
                "content_sha256": frozen_content.digest(invoice.content),
                "made_at": at,
            },
        )
    return verified_pdf(invoice, archived)


def verified_pdf(invoice: Invoice, archived: InvoicePdf) -> bytes:
    """Return the bytes of a stored PDF after checking its digests. Raises ArchiveMismatch."""
    pdf = bytes(archived.pdf)
    for found, digest, what in (
        (hashlib.sha256(pdf).hexdigest(), archived.sha256, "The kept PDF"),
        (frozen_content.digest(invoice.content), archived.content_sha256, "The content"),
    ):
        if found != digest:
            raise ArchiveMismatch(
                f"{what} of {invoice.number} is not what was issued: its digest differs. "
                "Bring the paper back from a back-up, and find out what changed the database."
            )
    return pdf
