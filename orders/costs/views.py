"""Earnings of jobs, by kind and by source; for the owner only."""

from datetime import timedelta

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render, resolve_url
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from orders.costs import actions
from orders.costs import earnings as costs_earnings
from orders.costs.forms import EffortForm, WorkRatesForm
from orders.costs.models import JobEffort, WorkRates
from studio.web.paging import paged
from studio.web.requests import StudioRequest, form_page, owner_only

LOOKS_BACK = timedelta(days=365)


@require_GET
@owner_only
def earnings(request: StudioRequest) -> HttpResponse:
    now = timezone.now()
    found = costs_earnings.earnings(request.unit, now - LOOKS_BACK, now)
    context = {
        "found": found,
        "page": paged(request, found.jobs),
        "charts": [
            ("By kind of order", "kind", found.by_kind),
            ("By how the family found you", "source", found.by_source),
        ],
    }
    return render(request, "orders/costs/earnings.html", context)


@require_http_methods(["GET", "POST"])
@owner_only
def set_work_rates(request: StudioRequest) -> HttpResponse:
    own = WorkRates.objects.filter(unit=request.unit).first() or WorkRates(unit=request.unit)
    form = WorkRatesForm(request.unit.currency, request.POST or None, own=own)
    return form_page(
        request,
        form,
        save=lambda: actions.set_work_rates(request.unit, **form.cleaned_data),
        done=resolve_url("orders:earnings"),
        heading="What you reckon with",
        lead="For your own eyes: it shows on no paper of a family.",
    )


@require_http_methods(["GET", "POST"])
@owner_only
def write_effort(request: StudioRequest, reference: str) -> HttpResponse:
    job = get_object_or_404(request.unit.jobs.select_related("family"), reference=reference)
    effort = JobEffort.objects.filter(job=job).first()
    usual = costs_earnings.usual_minutes(request.unit, job, job.pieces.on_the_job().count())
    form = EffortForm(request.unit.currency, request.POST or None, effort=effort, usual=usual)
    return form_page(
        request,
        form,
        save=lambda: actions.write_effort(job, **form.facts()),
        done=resolve_url("orders:order", reference),
        heading="Time and travel",
        over=f"{job.display_reference} · {job.family.name}",
    )
