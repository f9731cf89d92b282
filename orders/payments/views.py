"""Payments: the list, payments and refunds of an order; for the owner only."""

from functools import partial

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from orders.order.web import get_order, order_form_page
from orders.payments import actions
from orders.payments.forms import pay_back_form, payment_form
from studio import money
from studio.jobs.forms import WhyForm
from studio.web.paging import paged
from studio.web.requests import StudioRequest, owner_only


@require_http_methods(["GET", "POST"])
@owner_only
def take_payment(request: StudioRequest, reference: str) -> HttpResponse:
    order = get_order(request, reference)
    return order_form_page(
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
    order = get_order(request, reference)
    payment = get_object_or_404(order.payments, pk=pk)
    return order_form_page(
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
    order = get_order(request, reference)
    return order_form_page(
        request,
        order,
        pay_back_form(order, request.POST or None, today=timezone.localdate()),
        partial(actions.pay_back, order),
        heading="Money back to the family",
        submit="Write down what was paid back",
        said="The books say that the money went back.",
    )


@require_http_methods(["GET", "POST"])
@owner_only
def release_on_account(request: StudioRequest, reference: str) -> HttpResponse:
    order = get_order(request, reference)
    return order_form_page(
        request,
        order,
        WhyForm(request.POST or None),
        partial(actions.release_on_account, order),
        heading="Let it go home unpaid",
        lead="The balance stays owed, and on Today, until it is paid.",
        submit="Let it go home on account",
        said="It may go home on account.",
    )


@require_GET
@owner_only
def payments(request: StudioRequest) -> HttpResponse:
    page = paged(request, request.unit.payments.with_people().newest_first())
    return render(
        request, "orders/payments/payments.html", {"page": page, "today": timezone.localdate()}
    )
