"""Money: what is owed, what is still to come, the invoices and the payments; the owner's alone."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from orders import actions, queries
from orders.views.pages import paged
from studio.http import StudioRequest, owner_only, pdf_response


@require_GET
@owner_only
def money(request: StudioRequest) -> HttpResponse:
    today = timezone.localdate()
    debts = queries.owed(request.unit, today)
    context = {
        "page": paged(request, debts),
        "asked_minor": queries.asked_minor(debts),
        "takings": queries.takings(request.unit, today),
        "today": today,
    }
    return render(request, "orders/money.html", context)


@require_GET
@owner_only
def to_come(request: StudioRequest) -> HttpResponse:
    today = timezone.localdate()
    page = paged(request, queries.to_come(request.unit, today))
    return render(request, "orders/to_come.html", {"page": page, "today": today})


@require_GET
@owner_only
def invoices(request: StudioRequest) -> HttpResponse:
    page = paged(request, request.unit.invoices.with_people().newest_first())
    return render(request, "orders/invoices.html", {"page": page, "today": timezone.localdate()})


@require_GET
@owner_only
def payments(request: StudioRequest) -> HttpResponse:
    page = paged(request, request.unit.payments.with_people().newest_first())
    return render(request, "orders/payments.html", {"page": page, "today": timezone.localdate()})


@require_GET
@owner_only
def invoice_pdf(request: StudioRequest, number: str) -> HttpResponse:
    invoice = get_object_or_404(request.unit.invoices, number=number)
    return pdf_response(actions.keep_pdf(invoice, at=timezone.now()), f"{invoice.number}.pdf")
