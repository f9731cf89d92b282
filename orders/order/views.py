"""The lines of an order and its look; for the owner only."""

from functools import partial

from django.http import Http404, HttpResponse
from django.views.decorators.http import require_http_methods, require_POST

from orders.order import actions
from orders.order.forms import DeliveryForm, DiscountForm, ExtraForm, LookForm, ReductionForm
from orders.order.models import OrderLine
from orders.order.web import back_to_order, get_job, get_order, order_form_page, press_facts
from studio.web.requests import StudioRequest, owner_only


@require_POST
@owner_only
def price_job(request: StudioRequest, reference: str) -> HttpResponse:
    job = get_job(request, reference)
    actions.price_job(job, **press_facts(request))
    return back_to_order(request, job, "The job is priced.")


@require_POST
@owner_only
def reprice(request: StudioRequest, reference: str) -> HttpResponse:
    job = get_job(request, reference)
    actions.reprice(job, **press_facts(request))
    return back_to_order(request, job, "The job is priced on the list in force.")


@require_http_methods(["GET", "POST"])
@owner_only
def choose_look(request: StudioRequest, reference: str) -> HttpResponse:
    order = get_order(request, reference)
    return order_form_page(
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
    order = get_order(request, reference)
    return order_form_page(
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
    order = get_order(request, reference)
    return order_form_page(
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
    order = get_order(request, reference)
    return order_form_page(
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
def add_reduction(request: StudioRequest, reference: str) -> HttpResponse:
    order = get_order(request, reference)
    return order_form_page(
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
    order = get_order(request, reference)
    # A removed line is refused by the action; a line of another order is not found.
    if OrderLine.objects.exclude(order=order).filter(pk=pk).exists():
        raise Http404
    actions.drop_line(order, line_pk=pk, **press_facts(request))
    return back_to_order(request, order.job, "The line is off the order.")
