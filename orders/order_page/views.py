"""The page of an order, its confirmation, the hand-over and calling off."""

from functools import partial

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from orders.order.web import get_job, get_order, job_form_page
from orders.order_page import actions
from orders.order_page.confirmation import confirmation_pdf
from orders.order_page.forms import HandOverForm, call_off_form
from orders.order_page.page import order_page
from studio.web.requests import StudioRequest, owner_only, pdf_response


@require_GET
@owner_only
def order(request: StudioRequest, reference: str) -> HttpResponse:
    return render(
        request,
        "orders/order_page/order.html",
        order_page(get_job(request, reference), timezone.now()),
    )


@require_GET
@owner_only
def confirmation(request: StudioRequest, reference: str) -> HttpResponse:
    order = get_order(request, reference)
    return pdf_response(confirmation_pdf(order, timezone.now()), f"order-{reference}.pdf")


@require_POST
def hand_over(request: StudioRequest, reference: str) -> HttpResponse:
    job = get_job(request, reference)
    return job_form_page(
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
    job = get_job(request, reference)
    return job_form_page(
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
