from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from production.working_week import actions
from production.working_week import calendar as working_week_calendar
from production.working_week.forms import OtherDaysForm, WorkingWeekForm
from studio.web.requests import StudioRequest, client_key, form_page, owner_only


@require_GET
@owner_only
def working_week(request: StudioRequest) -> HttpResponse:
    calendar = working_week_calendar.calendar(request.unit, timezone.localdate())
    return render(request, "production/working_week/working_week.html", {"calendar": calendar})


@require_http_methods(["GET", "POST"])
@owner_only
def edit_working_week(request: StudioRequest) -> HttpResponse:
    week = working_week_calendar.working_week(request.unit)
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
