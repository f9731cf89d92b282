from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from studio import references
from studio.jobs import actions as jobs_actions
from studio.jobs import history
from studio.jobs import today as jobs_today
from studio.jobs.forms import PromiseForm, WhyForm
from studio.jobs.models import Piece
from studio.roles import Role
from studio.web import panels
from studio.web.requests import STAFF, StudioRequest, form_page, open_to, rooms


@require_GET
@open_to(*Role)
def today(request: StudioRequest) -> HttpResponse:
    """The day's work; a role without access to it is redirected to the first of its own pages."""
    if request.role not in STAFF:
        return redirect(rooms(request.role)[0].url)
    now = timezone.now()
    day = jobs_today.arrange_today(panels.today_items(request.unit, request.role, now), now)
    context = {
        "day": day,
        "is_new": day.is_empty and not request.unit.families.exists(),
        "now": timezone.localtime(now),
    }
    return render(request, "studio/jobs/today.html", context)


@require_GET
def job(request: StudioRequest, reference: str) -> HttpResponse:
    job = get_object_or_404(
        request.unit.jobs.with_people().select_related("split_from"), reference=reference
    )
    now = timezone.now()
    events = history.job_history(job)
    context = {
        "job": job,
        "steps": history.stage_steps(job, events),
        "events": events,
        "panels": panels.job_panels(job, request.role, now),
        "late": history.is_late(job, timezone.localdate(now)),
        "promise_form": None if job.is_closed else PromiseForm(),
    }
    return render(request, "studio/jobs/job.html", context)


@require_GET
def find_job(request: StudioRequest) -> HttpResponse:
    """Open a job by its reference, in any spelling that `references.normalise` accepts."""
    entered = request.GET.get("reference", "")
    try:
        found = get_object_or_404(request.unit.jobs, reference=references.normalise(entered))
    except ValueError as broken:
        messages.error(request, str(broken))
        return redirect("studio:today")
    except Http404:
        messages.error(request, f"No job here has the reference {entered}.")
        return redirect("studio:today")
    return redirect(found)


@require_http_methods(["GET", "POST"])
def promise(request: StudioRequest, reference: str) -> HttpResponse:
    job = get_object_or_404(request.unit.jobs, reference=reference)
    form = PromiseForm(request.POST or None, initial={"promised_on": job.promised_on})
    return form_page(
        request,
        form,
        save=lambda: jobs_actions.promise(
            job, **form.cleaned_data, by=request.user, at=timezone.now()
        ),
        done=job.get_absolute_url(),
        heading=f"The promise for {job}",
    )


@require_http_methods(["GET", "POST"])
def leave_off_piece(request: StudioRequest, pk: int) -> HttpResponse:
    piece = get_object_or_404(Piece, job__unit=request.unit, pk=pk, left_off_at=None)
    form = WhyForm(request.POST or None)
    return form_page(
        request,
        form,
        save=lambda: jobs_actions.leave_off_piece(
            piece, **form.cleaned_data, by=request.user, at=timezone.now()
        ),
        done=piece.job.get_absolute_url(),
        heading=f"Leave off: {piece}",
    )
