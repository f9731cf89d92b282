"""Papers about money: batches of invoices, receipts, a family's account, ageing, reminders, turnover."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render, resolve_url
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from orders import actions, papers_pdf, pdf, queries, reminding
from orders.forms import BatchForm
from orders.models import Order, Payment
from orders.price_forms import VatThresholdForm
from orders.views.pages import paged
from orders.work import ISSUE_INVOICES
from studio.http import StudioRequest, client_key, form_page, owner_only, pdf_response
from studio.models import Family
from studio.work import begin_work


@require_http_methods(["GET", "POST"])
@owner_only
def issue_batch(request: StudioRequest) -> HttpResponse:
    """What is ready to be invoiced, all of it ticked; one press, and the worker issues them."""
    orders = queries.to_invoice(request.unit, timezone.localdate())
    form = BatchForm(orders, request.POST or None)
    if not form.is_bound or not form.is_valid():
        context = {"form": form, "orders": orders}
        return render(request, "orders/batch.html", context, status=422 if form.is_bound else 200)
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


@require_GET
@owner_only
def quote_pdf(request: StudioRequest, reference: str, pk: int) -> HttpResponse:
    quotes = request.unit.quotes.select_related("order__job", "unit")
    quote = get_object_or_404(quotes, order__job__reference=reference, pk=pk)
    name = f"order {quote.order.job.spoken_reference}.pdf"
    return pdf_response(papers_pdf.quote(quote), name)


@require_GET
@owner_only
def ageing(request: StudioRequest) -> HttpResponse:
    today = timezone.localdate()
    found = queries.ageing(request.unit, today)
    context = {"ageing": found, "page": paged(request, found.rows), "today": today}
    return render(request, "orders/ageing.html", context)


@require_GET
@owner_only
def reminder(request: StudioRequest, reference: str) -> HttpResponse:
    order = _order(request, reference)
    context = {
        "order": order,
        "job": order.job,
        "draft": reminding.draft(order, timezone.localdate()),
    }
    return render(request, "orders/reminder.html", context)


@require_POST
@owner_only
def note_reminder(request: StudioRequest, reference: str) -> HttpResponse:
    order = _order(request, reference)
    actions.note_reminder(order, by=request.user, at=timezone.now(), key=client_key(request))
    messages.success(request, "It is written down that you reminded them.")
    return redirect("orders:ageing")


@require_GET
@owner_only
def account(request: StudioRequest, pk: int) -> HttpResponse:
    found = queries.account_of(_family(request, pk))
    return render(request, "orders/account.html", {"account": found, "today": timezone.localdate()})


@require_GET
@owner_only
def account_pdf(request: StudioRequest, pk: int) -> HttpResponse:
    found = queries.account_of(_family(request, pk))
    written = pdf.account_pdf(found, request.unit, timezone.localdate())
    return pdf_response(written, f"statement-{found.family.pk}.pdf")


@require_POST
@owner_only
def give_receipt(request: StudioRequest, reference: str, pk: int) -> HttpResponse:
    order = _order(request, reference)
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
    return pdf_response(pdf.receipt_pdf(receipt.content), f"{receipt.number}.pdf")


@require_GET
@owner_only
def turnover(request: StudioRequest) -> HttpResponse:
    today = timezone.localdate()
    context = {
        "turnover": queries.turnover(request.unit, today),
        "thresholds": request.unit.vat_thresholds.all(),
        "today": today,
    }
    return render(request, "orders/turnover.html", context)


@require_http_methods(["GET", "POST"])
@owner_only
def set_vat_threshold(request: StudioRequest) -> HttpResponse:
    form = VatThresholdForm(request.unit.currency, request.POST or None)
    return form_page(
        request,
        form,
        save=lambda: actions.set_vat_threshold(request.unit, **form.facts),
        done=resolve_url("orders:turnover"),
        said="The threshold is written down.",
        heading="The turnover at which you must register",
        lead="The law changes it now and then: write each as it comes, from its day on.",
        submit="Write it down",
    )


def _order(request: StudioRequest, reference: str) -> Order:
    orders = request.unit.orders.select_related("job__family", "unit")
    return get_object_or_404(orders, job__reference=reference)


def _family(request: StudioRequest, pk: int) -> Family:
    return get_object_or_404(request.unit.families.select_related("unit"), pk=pk)
