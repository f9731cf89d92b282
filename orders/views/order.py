"""One order: its lines, payments and invoices, and the two ends of its job."""

from collections.abc import Callable
from functools import partial
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from orders import actions, queries
from orders.confirmation import confirmation_pdf
from orders.forms import (
    AcceptForm,
    CreditPartForm,
    DeliveryForm,
    DiscountForm,
    ExtraForm,
    FrameSizeForm,
    HandOverForm,
    LookForm,
    ReductionForm,
)
from orders.models import Order, OrderLine
from orders.order_page import call_off_form, order_page, pay_back_form, payment_form
from studio import money
from studio.forms import WhyForm
from studio.http import StudioRequest, client_key, form_page, owner_only, pdf_response
from studio.models import Job


@require_GET
@owner_only
def order(request: StudioRequest, reference: str) -> HttpResponse:
    return render(
        request, "orders/order.html", order_page(_job(request, reference), timezone.now())
    )


@require_GET
@owner_only
def confirmation(request: StudioRequest, reference: str) -> HttpResponse:
    order = _order(request, reference)
    return pdf_response(confirmation_pdf(order, timezone.now()), f"order-{reference}.pdf")


@require_POST
@owner_only
def price_job(request: StudioRequest, reference: str) -> HttpResponse:
    job = _job(request, reference)
    actions.price_job(job, **_press(request))
    return _back(request, job, "The job is priced.")


@require_POST
@owner_only
def price_anew(request: StudioRequest, reference: str) -> HttpResponse:
    job = _job(request, reference)
    actions.price_anew(job, **_press(request))
    return _back(request, job, "The job is priced on the list in force.")


@require_http_methods(["GET", "POST"])
@owner_only
def choose_look(request: StudioRequest, reference: str) -> HttpResponse:
    order = _order(request, reference)
    return _order_form(
        request,
        order,
        LookForm(order, request.POST or None),
        partial(actions.choose_look, order),
        heading="Backing and finish",
        submit="Choose these",
        said="The look is chosen.",
    )


@require_http_methods(["GET", "POST"])
@owner_only
def add_extra(request: StudioRequest, reference: str) -> HttpResponse:
    order = _order(request, reference)
    return _order_form(
        request,
        order,
        ExtraForm(order, request.POST or None),
        partial(actions.add_extra, order),
        heading="An extra",
        submit="Add it to the order",
        said="The extra is on the order.",
    )


@require_http_methods(["GET", "POST"])
@owner_only
def add_delivery(request: StudioRequest, reference: str) -> HttpResponse:
    order = _order(request, reference)
    return _order_form(
        request,
        order,
        DeliveryForm(order, request.POST or None),
        partial(actions.add_delivery, order),
        heading="Delivery",
        lead="Instead of the delivery on the order, if there is one.",
        submit="Charge this delivery",
        said="The delivery is on the order.",
    )


@require_http_methods(["GET", "POST"])
@owner_only
def add_discount(request: StudioRequest, reference: str) -> HttpResponse:
    order = _order(request, reference)
    return _order_form(
        request,
        order,
        DiscountForm(order, request.POST or None),
        partial(actions.add_discount, order),
        heading="A discount of the price list",
        submit="Give this discount",
        said="The discount is on the order.",
    )


@require_http_methods(["GET", "POST"])
@owner_only
def size_frame(request: StudioRequest, reference: str) -> HttpResponse:
    order, today = _order(request, reference), timezone.localdate()
    return _order_form(
        request,
        order,
        FrameSizeForm(order, request.POST or None, drawn=queries.drawn_frame(order.job, today)),
        partial(actions.size_frame, order),
        heading="Size of the frame",
        submit="Price this size",
        said="The frame is priced by its size.",
    )


@require_http_methods(["GET", "POST"])
@owner_only
def accept_quote(request: StudioRequest, reference: str) -> HttpResponse:
    order = _order(request, reference)
    total = money.display(queries.sums(order).total_minor, request.unit.currency)
    return _order_form(
        request,
        order,
        AcceptForm(request.POST or None),
        partial(actions.accept_quote, order),
        heading=f"The family accepts {total}",
        lead="The lines are kept as they stand, and later price lists never touch this order.",
        submit="Write down that they accept",
        said="The accepted price is kept.",
    )


@require_POST
@owner_only
def note_answer(request: StudioRequest, reference: str) -> HttpResponse:
    order = _order(request, reference)
    actions.note_answer(order, at=timezone.now())
    return _back(request, order.job, "Noted: it is off Today.")


@require_http_methods(["GET", "POST"])
@owner_only
def add_reduction(request: StudioRequest, reference: str) -> HttpResponse:
    order = _order(request, reference)
    return _order_form(
        request,
        order,
        ReductionForm(request.unit.currency, request.POST or None),
        partial(actions.add_reduction, order),
        heading="A reduction",
        submit="Take it off the price",
        said="The price is reduced.",
    )


@require_POST
@owner_only
def drop_line(request: StudioRequest, reference: str, pk: int) -> HttpResponse:
    order = _order(request, reference)
    # A line that is gone is a sentence; another order's line is none of this page's.
    if OrderLine.objects.exclude(order=order).filter(pk=pk).exists():
        raise Http404
    actions.drop_line(order, line_pk=pk, **_press(request))
    return _back(request, order.job, "The line is off the order.")


@require_http_methods(["GET", "POST"])
@owner_only
def take_payment(request: StudioRequest, reference: str) -> HttpResponse:
    order = _order(request, reference)
    return _order_form(
        request,
        order,
        payment_form(order, request.POST or None, today=timezone.localdate()),
        partial(actions.take_payment, order),
        heading="A payment",
        submit="Write down this payment",
        said="The payment is in the books.",
    )


@require_http_methods(["GET", "POST"])
@owner_only
def reverse_payment(request: StudioRequest, reference: str, pk: int) -> HttpResponse:
    order = _order(request, reference)
    payment = get_object_or_404(order.payments, pk=pk)
    return _order_form(
        request,
        order,
        WhyForm(request.POST or None),
        partial(actions.reverse_payment, payment),
        heading=f"Reverse {money.display(payment.amount_minor, request.unit.currency)}",
        lead="The payment stays in the books, and its reversal beside it.",
        submit="Reverse this payment",
        said="The payment is reversed.",
        variant="danger",
    )


@require_http_methods(["GET", "POST"])
@owner_only
def pay_back(request: StudioRequest, reference: str) -> HttpResponse:
    order = _order(request, reference)
    return _order_form(
        request,
        order,
        pay_back_form(order, request.POST or None, today=timezone.localdate()),
        partial(actions.pay_back, order),
        heading="Money back to the family",
        submit="Write down what was paid back",
        said="The books say that the money went back.",
    )


@require_POST
@owner_only
def issue_invoice(request: StudioRequest, reference: str) -> HttpResponse:
    order = _order(request, reference)
    invoice = actions.issue_invoice(order, **_press(request))
    actions.keep_pdf(invoice, at=timezone.now())
    return _back(request, order.job, f"Invoice {invoice.number} is issued.")


@require_http_methods(["GET", "POST"])
@owner_only
def credit_invoice(request: StudioRequest, number: str) -> HttpResponse:
    found = request.unit.invoices.select_related("order__job", "order__unit")
    invoice = get_object_or_404(found, number=number)
    return _order_form(
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
    lines = queries.charged_lines(invoice.order)
    return _order_form(
        request,
        invoice.order,
        CreditPartForm(request.unit.currency, request.POST or None, lines=lines),
        partial(actions.credit_part, invoice),
        heading=f"Credit a part of {invoice.number}",
        lead="The invoice goes on to stand, less by what you credit; all that is left of it cancels it.",
        submit="Issue the credit note",
        said="The credit note is issued.",
    )


@require_http_methods(["GET", "POST"])
@owner_only
def release_on_account(request: StudioRequest, reference: str) -> HttpResponse:
    order = _order(request, reference)
    return _order_form(
        request,
        order,
        WhyForm(request.POST or None),
        partial(actions.release_on_account, order),
        heading="Let it go home unpaid",
        lead="The balance stays owed, and on Today, until it is paid.",
        submit="Let it go home on account",
        said="It may go home on account.",
    )


@require_POST
def hand_over(request: StudioRequest, reference: str) -> HttpResponse:
    job = _job(request, reference)
    return _job_form(
        request,
        job,
        HandOverForm(request.POST),
        partial(actions.hand_over, job),
        heading="Hand it over",
        submit="Hand it over",
        said="It has gone home.",
    )


@require_http_methods(["GET", "POST"])
@owner_only
def call_off(request: StudioRequest, reference: str) -> HttpResponse:
    job = _job(request, reference)
    return _job_form(
        request,
        job,
        call_off_form(job, request.POST or None),
        partial(actions.call_off, job),
        heading="Call the job off",
        lead="A planned sitting is cancelled, the rack is cleared, a standing invoice is credited. "
        "A job that is called off stays so.",
        submit="Call the job off",
        said="The job is called off.",
        variant="danger",
    )


def _job(request: StudioRequest, reference: str) -> Job:
    return get_object_or_404(
        request.unit.jobs.select_related("family", "unit"), reference=reference
    )


def _order(request: StudioRequest, reference: str) -> Order:
    orders = request.unit.orders.select_related(
        "job__family", "unit", "price_list", "backing", "finish"
    )
    return get_object_or_404(orders, job__reference=reference)


def _press(request: StudioRequest) -> dict[str, Any]:
    """Who, when and the key of a button's press."""
    return {"by": request.user, "at": timezone.now(), "key": client_key(request)}


def _back(request: StudioRequest, job: Job, said: str) -> HttpResponse:
    messages.success(request, said)
    return redirect("orders:order", job.reference)


def _order_form(
    request: StudioRequest, order: Order, form: Any, act: Callable[..., object], **words: str
) -> HttpResponse:
    return _keyed_form(request, form, act, back=order.get_absolute_url(), job=order.job, **words)


def _job_form(
    request: StudioRequest, job: Job, form: Any, act: Callable[..., object], **words: str
) -> HttpResponse:
    return _keyed_form(request, form, act, back=job.get_absolute_url(), job=job, **words)


def _keyed_form(
    request: StudioRequest,
    form: Any,
    act: Callable[..., object],
    *,
    back: str,
    job: Job,
    **words: str,
) -> HttpResponse:
    """A page for one keyed form, whose fields are the facts of its action."""
    return form_page(
        request,
        form,
        save=lambda: act(**form.cleaned_data, by=request.user, at=timezone.now()),
        done=back,
        over=f"{job.spoken_reference}, {job.family.name}",
        **words,
    )
