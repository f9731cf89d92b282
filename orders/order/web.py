"""Helpers shared by the views of orders."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone

from orders.order.models import Order
from studio.jobs.models import Job
from studio.web.requests import StudioRequest, client_key, form_page


def get_job(request: StudioRequest, reference: str) -> Job:
    """Return the unit's job with family and unit, or answer 404."""
    return get_object_or_404(
        request.unit.jobs.select_related("family", "unit"), reference=reference
    )


def get_order(request: StudioRequest, reference: str) -> Order:
    """Return the order of the unit's job, with job, family, unit and price list, or answer 404."""
    orders = request.unit.orders.select_related("job__family", "unit", "price_list")
    return get_object_or_404(orders, job__reference=reference)


def press_facts(request: StudioRequest) -> dict[str, Any]:
    """Return user, time and key of a pressed button, for an action."""
    return {"by": request.user, "at": timezone.now(), "key": client_key(request)}


def back_to_order(request: StudioRequest, job: Job, message: str) -> HttpResponse:
    """Redirect to the order's page with a success message."""
    messages.success(request, message)
    return redirect("orders:order", job.reference)


def order_form_page(
    request: StudioRequest, order: Order, form: Any, act: Callable[..., object], **words: str
) -> HttpResponse:
    """Show one form of an order and call the action with its fields."""
    return _keyed_form(request, form, act, back=order.get_absolute_url(), job=order.job, **words)


def job_form_page(
    request: StudioRequest, job: Job, form: Any, act: Callable[..., object], **words: str
) -> HttpResponse:
    """Show one form of a job and call the action with its fields."""
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
    """Show one form and call the action with its fields."""
    return form_page(
        request,
        form,
        save=lambda: act(**form.cleaned_data, by=request.user, at=timezone.now()),
        done=back,
        over=f"{job.display_reference}, {job.family.name}",
        **words,
    )
