"""Receipts; for the owner only."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from orders.invoices import invoice_pdf
from orders.order.web import get_order
from orders.payments.models import Payment
from orders.receipts import actions
from studio.web.requests import StudioRequest, client_key, owner_only, pdf_response


@require_POST
@owner_only
def give_receipt(request: StudioRequest, reference: str, pk: int) -> HttpResponse:
    order = get_order(request, reference)
    payment = get_object_or_404(
        Payment.objects.select_related("order__job__family"), order=order, pk=pk
    )
    receipt = actions.give_receipt(
        payment, by=request.user, at=timezone.now(), key=client_key(request)
    )
    messages.success(request, f"Receipt {receipt.number} is written.")
    return redirect(order)


@require_GET
@owner_only
def receipt_pdf(request: StudioRequest, number: str) -> HttpResponse:
    receipt = get_object_or_404(request.unit.receipts, number=number)
    return pdf_response(invoice_pdf.receipt_pdf(receipt.content), f"{receipt.number}.pdf")
