"""The week on screen, its printed sheet, and ticking off what was done on paper."""

from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from production.bench import jobs
from production.weekly_sheet import paper
from production.weekly_sheet import tick_off as weekly_sheet_tick_off
from production.weekly_sheet.paper import STEP_WORDS
from production.weekly_sheet.work import WEEKLY_SHEET
from studio import units
from studio.web.requests import StudioRequest, client_key, pdf_response
from studio.work.queue import begin_work


@require_GET
def this_week(request: StudioRequest) -> HttpResponse:
    return redirect("production:week", units.week_of(timezone.localdate()))


@require_GET
def week(request: StudioRequest, week: str) -> HttpResponse:
    try:
        days = units.parse_week(week)
    except ValueError as unknown:
        return _no_such_week(request, str(unknown))
    now = timezone.now()
    plans = jobs.week_plan(request.unit, days, now)
    context = {
        "plans": plans,
        "is_long": paper.is_long(plans),
        "today": timezone.localdate(now),
        **_around(days),
    }
    return render(request, "production/weekly_sheet/week.html", context)


@require_GET
def weekly_sheet(request: StudioRequest, week: str) -> HttpResponse:
    try:
        days = units.parse_week(week)
    except ValueError as unknown:
        return _no_such_week(request, str(unknown))
    written = paper.weekly_sheet(request.unit, days, timezone.now())
    return pdf_response(written, paper.file_name(days))


@require_POST
def print_week(request: StudioRequest, week: str) -> HttpResponse:
    """Queue the PDF of a long sheet and show its progress."""
    try:
        days = units.parse_week(week)
    except ValueError as unknown:
        return _no_such_week(request, str(unknown))
    work = begin_work(
        request.unit,
        WEEKLY_SHEET,
        title=f"The sheet of {units.day(days[0])} to {units.day(days[-1])}",
        facts={"week": units.week_of(days[0])},
        by=request.user,
        at=timezone.now(),
        key=client_key(request),
    )
    return redirect(work)


def _around(days: tuple[date, ...]) -> dict[str, Any]:
    """Return the names of the week and its neighbours, empty at the ends of the calendar."""
    return {
        "week": units.week_of(days[0]),
        "first": days[0],
        "last": days[-1],
        "before": _week_from(days[0], -7),
        "after": _week_from(days[0], 7),
    }


def _week_from(monday: date, days: int) -> str:
    try:
        return units.week_of(monday + timedelta(days=days))
    except OverflowError:
        return ""


def _no_such_week(request: StudioRequest, why: str) -> HttpResponse:
    return render(request, "production/weekly_sheet/no_week.html", {"reasons": [why]}, status=404)


@require_http_methods(["GET", "POST"])
def tick_off(request: StudioRequest) -> HttpResponse:
    """Show today's list, or record what was ticked on paper."""
    now = timezone.now()
    sheet = weekly_sheet_tick_off.sheet_of_today(request.unit, now, request.POST.dict())
    if request.method == "POST":
        key = client_key(request)
        weekly_sheet_tick_off.tick_off(request.unit, sheet, by=request.user, at=now, key=key)
        if sheet.done:
            messages.success(request, f"Written down: {'; '.join(sheet.done)}.")
        if not sheet.errors:
            return redirect("production:tick_off")
        sheet = weekly_sheet_tick_off.remaining_sheet(request.unit, now, sheet)
    context = {"sheet": sheet, "steps": STEP_WORDS}
    status = 409 if sheet.errors else 200
    return render(request, "production/weekly_sheet/tick_off.html", context, status=status)
