"""The pages of the working week and of the plan."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from production.planning import actions, making, pages, promising, queries, ticking
from production.planning.forms import (
    CourierForm,
    LastSittingForm,
    OtherDaysForm,
    PinForm,
    StepForm,
    WeekOffForm,
    WorkingWeekForm,
)
from production.sheet import STEP_WORDS
from studio.http import StudioRequest, client_key, form_page, owner_only, status_of


@require_GET
@owner_only
def working_week(request: StudioRequest) -> HttpResponse:
    calendar = queries.calendar(request.unit, timezone.localdate())
    return render(request, "production/working_week.html", {"calendar": calendar})


@require_http_methods(["GET", "POST"])
@owner_only
def edit_working_week(request: StudioRequest) -> HttpResponse:
    week = queries.working_week(request.unit)
    form = WorkingWeekForm(request.POST or None, instance=week)
    return form_page(
        request,
        form,
        save=lambda: actions.edit_working_week(
            request.unit, facts=form.facts, seen_version=form.cleaned_data["version"]
        ),
        done="production:working_week",
        heading="How your bench works",
        lead="Minutes at the bench on each day, without the sittings; 0 is a day off.",
    )


@require_http_methods(["GET", "POST"])
@owner_only
def add_other_days(request: StudioRequest) -> HttpResponse:
    now = timezone.now()
    form = OtherDaysForm(request.POST or None, today=timezone.localdate(now))
    return form_page(
        request,
        form,
        save=lambda: actions.add_other_days(
            request.unit, **form.cleaned_data, by=request.user, at=now
        ),
        done="production:working_week",
        heading="Days off, or with other hours",
        submit="Note these days",
    )


@require_POST
@owner_only
def drop_other_days(request: StudioRequest, pk: int) -> HttpResponse:
    days = get_object_or_404(request.unit.other_days, pk=pk)
    client_key(request)
    actions.drop_other_days(days, at=timezone.now())
    return redirect("production:working_week")


@require_GET
def plan(request: StudioRequest) -> HttpResponse:
    now = timezone.now()
    by_job = request.GET.get("by") == "job"
    context = {
        "plan": pages.plan_page(request.unit, now, by_job=by_job),
        "by_job": by_job,
        "today": timezone.localdate(now),
    }
    return render(request, "production/plan.html", context)


@require_POST
@owner_only
def plan_anew(request: StudioRequest) -> HttpResponse:
    """The best plan that the solver finds, worked out by the worker."""
    now, key = timezone.now(), client_key(request)
    work = making.ask_for_plan(request.unit, by=request.user, at=now, key=key)
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
        save=lambda: actions.pin_step(job, **form.cleaned_data, by=request.user, at=timezone.now()),
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
    actions.unpin_step(job, **facts, by=request.user, at=timezone.now())
    messages.success(request, f"{job.first_names}: let go. The plan may move it again.")
    return redirect("production:plan")


@require_POST
@owner_only
def send_by_courier(request: StudioRequest, reference: str) -> HttpResponse:
    job = get_object_or_404(request.unit.jobs.with_people(), reference=reference)
    facts = CourierForm(request.POST).validated()
    actions.send_by_courier(job, **facts, by=request.user, at=timezone.now())
    way = "goes home by courier" if facts["courier"] else "is collected by the family"
    messages.success(request, f"{job.first_names} {way}.")
    return redirect(reverse("production:plan", query={"by": "job"}))


@require_http_methods(["GET", "POST"])
def tick_off(request: StudioRequest) -> HttpResponse:
    """Today's list as the sheet prints it; what was ticked on paper is written down in one go."""
    now = timezone.now()
    sheet = ticking.sheet_of_today(request.unit, now, request.POST.dict())
    if request.method == "POST":
        key = client_key(request)
        ticking.tick_off(request.unit, sheet, by=request.user, at=now, key=key)
        if sheet.done:
            messages.success(request, f"Written down: {'; '.join(sheet.done)}.")
        if not sheet.errors:
            return redirect("production:tick_off")
        sheet = ticking.what_is_left(request.unit, now, sheet)
    context = {"sheet": sheet, "steps": STEP_WORDS}
    status = 409 if sheet.errors else 200
    return render(request, "production/tick_off.html", context, status=status)


@require_GET
def ask_plan(request: StudioRequest) -> HttpResponse:
    """Two questions to the plan, which change nothing: by a look, so that an answer can be kept as a link."""
    now = timezone.now()
    last = LastSittingForm(request.GET if "delivery_on" in request.GET else None)
    off = WeekOffForm(
        request.GET if "first_on" in request.GET else None, today=timezone.localdate(now)
    )
    context: dict[str, Any] = {"last_form": last, "off_form": off}
    if last.is_bound and last.is_valid():
        wanted_on = last.cleaned_data["delivery_on"]
        context["wanted_on"] = wanted_on
        context["last"] = promising.last_sitting(request.unit, wanted_on, last.limbs, now)
    if off.is_bound and off.is_valid():
        context["off"] = promising.week_off(request.unit, **off.cleaned_data, now=now)
    return render(request, "production/ask_plan.html", context, status=status_of(last, off))
