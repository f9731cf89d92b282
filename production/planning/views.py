"""Views of the plan."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from production.planning import actions as planning_actions
from production.planning import page, plan_runs, promises
from production.planning.forms import CourierForm, LastSittingForm, PinForm, StepForm, WeekOffForm
from studio.web.requests import StudioRequest, client_key, form_page, owner_only, status_of


@require_GET
def plan(request: StudioRequest) -> HttpResponse:
    now = timezone.now()
    by_job = request.GET.get("by") == "job"
    context = {
        "plan": page.plan_page(request.unit, now, by_job=by_job),
        "by_job": by_job,
        "today": timezone.localdate(now),
    }
    return render(request, "production/planning/plan.html", context)


@require_POST
@owner_only
def plan_anew(request: StudioRequest) -> HttpResponse:
    """Queue a solved plan and show its progress."""
    now, key = timezone.now(), client_key(request)
    work = plan_runs.request_plan(request.unit, by=request.user, at=now, key=key)
    if work.key != key:
        messages.info(request, "A plan is being worked out already; no second one was begun.")
    return redirect(work)


@require_http_methods(["GET", "POST"])
@owner_only
def pin_step(request: StudioRequest, reference: str) -> HttpResponse:
    job = get_object_or_404(request.unit.jobs.with_people(), reference=reference)
    asked = {name: request.GET[name] for name in ("kind", "piece", "on") if name in request.GET}
    form = PinForm(request.POST or None, job=job, initial=asked)
    return form_page(
        request,
        form,
        save=lambda: planning_actions.pin_step(
            job, **form.cleaned_data, by=request.user, at=timezone.now()
        ),
        done="production:plan",
        said="Kept. The plan goes round it.",
        heading=f"{form.step}: on which day?",
        lead="No plan moves it until you let it go.",
        submit="Keep it there",
    )


@require_POST
@owner_only
def unpin_step(request: StudioRequest, reference: str) -> HttpResponse:
    job = get_object_or_404(request.unit.jobs.with_people(), reference=reference)
    facts = StepForm(request.POST, job=job).validated()
    planning_actions.unpin_step(job, **facts, by=request.user, at=timezone.now())
    messages.success(request, f"{job.first_names}: let go. The plan may move it again.")
    return redirect("production:plan")


@require_POST
@owner_only
def send_by_courier(request: StudioRequest, reference: str) -> HttpResponse:
    job = get_object_or_404(request.unit.jobs.with_people(), reference=reference)
    facts = CourierForm(request.POST).validated()
    planning_actions.send_by_courier(job, **facts, by=request.user, at=timezone.now())
    way = "goes home by courier" if facts["courier"] else "is collected by the family"
    messages.success(request, f"{job.first_names} {way}.")
    return redirect(reverse("production:plan", query={"by": "job"}))


@require_GET
def ask_plan(request: StudioRequest) -> HttpResponse:
    """Answer two questions to the plan by GET, so that an answer can be bookmarked."""
    now = timezone.now()
    last = LastSittingForm(request.GET if "delivery_on" in request.GET else None)
    off = WeekOffForm(
        request.GET if "first_on" in request.GET else None, today=timezone.localdate(now)
    )
    context: dict[str, Any] = {"last_form": last, "off_form": off}
    if last.is_bound and last.is_valid():
        wanted_on = last.cleaned_data["delivery_on"]
        context["wanted_on"] = wanted_on
        context["last"] = promises.last_sitting(request.unit, wanted_on, last.limbs, now)
    if off.is_bound and off.is_valid():
        context["off"] = promises.week_off(request.unit, **off.cleaned_data, now=now)
    return render(
        request, "production/planning/ask_plan.html", context, status=status_of(last, off)
    )
