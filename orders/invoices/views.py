"""Invoices and credit notes; for the owner only."""

from functools import partial
from uuid import uuid4

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from orders.invoices import actions
from orders.invoices.archive import archived_pdf
from orders.invoices.batch import ISSUE_INVOICES, charged_lines, to_invoice
from orders.invoices.forms import BatchForm, CreditPartForm
from orders.order.web import back_to_order, get_order, order_form_page, press_facts
from studio.jobs.forms import WhyForm
from studio.web.paging import paged
from studio.web.requests import StudioRequest, owner_only, pdf_response
from studio.work.queue import begin_work


@require_POST
@owner_only
def issue_invoice(request: StudioRequest, reference: str) -> HttpResponse:
    order = get_order(request, reference)
    invoice = actions.issue_invoice(order, **press_facts(request))
    archived_pdf(invoice, at=timezone.now())
    return back_to_order(request, order.job, f"Invoice {invoice.number} is issued.")


@require_http_methods(["GET", "POST"])
@owner_only
def credit_invoice(request: StudioRequest, number: str) -> HttpResponse:
    found = request.unit.invoices.select_related("order__job", "order__unit")
    invoice = get_object_or_404(found, number=number)
    return order_form_page(
        request,
        invoice.order,
        WhyForm(request.POST or None),
        partial(actions.credit_invoice, invoice),
        heading=f"Cancel invoice {invoice.number}",
        lead="A credit note cancels the whole of it. The order can then change and be invoiced anew.",
        submit="Issue the credit note",
        said="The credit note is issued.",
        variant="danger",
    )


@require_http_methods(["GET", "POST"])
@owner_only
def credit_part(request: StudioRequest, number: str) -> HttpResponse:
    found = request.unit.invoices.select_related("order__job__family", "order__unit")
    invoice = get_object_or_404(found, number=number)
    lines = charged_lines(invoice.order)
    return order_form_page(
        request,
        invoice.order,
        CreditPartForm(request.unit.currency, request.POST or None, lines=lines),
        partial(actions.credit_part, invoice),
        heading=f"Credit a part of {invoice.number}",
        lead="The invoice goes on to stand, less by what you credit; all that is left of it cancels it.",
        submit="Issue the credit note",
        said="The credit note is issued.",
    )


@require_GET
@owner_only
def invoices(request: StudioRequest) -> HttpResponse:
    page = paged(request, request.unit.invoices.with_people().newest_first())
    return render(
        request, "orders/invoices/invoices.html", {"page": page, "today": timezone.localdate()}
    )


@require_GET
@owner_only
def invoice_pdf(request: StudioRequest, number: str) -> HttpResponse:
    invoice = get_object_or_404(request.unit.invoices, number=number)
    return pdf_response(archived_pdf(invoice, at=timezone.now()), f"{invoice.number}.pdf")


@require_http_methods(["GET", "POST"])
@owner_only
def issue_batch(request: StudioRequest) -> HttpResponse:
    """Choose orders to invoice, all ticked at first; the worker then issues the invoices."""
    orders = to_invoice(request.unit, timezone.localdate())
    form = BatchForm(orders, request.POST or None)
    if not form.is_bound or not form.is_valid():
        context = {"form": form, "orders": orders, "key": uuid4()}
        return render(
            request, "orders/invoices/batch.html", context, status=422 if form.is_bound else 200
        )
    chosen = form.cleaned_data["orders"]
    work = begin_work(
        request.unit,
        ISSUE_INVOICES,
        title=f"{len(chosen)} invoice{'' if len(chosen) == 1 else 's'}",
        facts={"orders": chosen},
        by=request.user,
        at=timezone.now(),
        key=form.cleaned_data["key"],
    )
    return redirect(work)
