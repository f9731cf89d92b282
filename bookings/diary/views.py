"""Pages of the diary: a week, and the forms to book, book again, move and cancel a sitting."""

from collections.abc import Callable, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from bookings import times
from bookings.diary import actions, week
from bookings.diary.forms import BookingForm, CancelForm, MoveForm, WhenForm
from bookings.sittings import ages
from bookings.sittings.models import Sitting
from bookings.sittings.prints import jobs_without_sitting
from studio.families.models import Child
from studio.jobs import promises
from studio.limbs import Limb
from studio.stages import Refused
from studio.versions import EditedMeanwhile
from studio.web.requests import StudioRequest, form_page, page_or_part, status_of


@require_GET
def diary(request: StudioRequest) -> HttpResponse:
    now = timezone.now()
    try:
        days = week.parse_week(request.GET.get("week", ""), now, request.unit.time_zone)
    except ValueError as impossible:
        reasons = [str(impossible)]
        return render(request, "bookings/diary/no_such_week.html", {"reasons": reasons}, status=422)
    context = {
        "week": week.week(request.unit, days, now),
        "waiting": request.unit.enquiries.waiting().count(),
        "undated": jobs_without_sitting(request.unit).with_people().order_by("opened_at"),
        "today": times.local_day(now, request.unit.time_zone),
    }
    return page_or_part(request, "bookings/diary/diary.html", "bookings/diary/_week.html", context)


@require_http_methods(["GET", "POST"])
def book_sitting(request: StudioRequest, pk: int) -> HttpResponse:
    family = get_object_or_404(request.unit.families, pk=pk)
    children = list(family.children.oldest_first())
    form = BookingForm(
        request.POST or None,
        unit=request.unit,
        children=children,
        initial=_initial_values(request, children),
    )
    return _sitting_form_page(
        request,
        form,
        children,
        save=lambda: actions.book_sitting(
            family,
            **form.facts,
            promised_on=_promised_on(request, form),
            by=request.user,
            at=timezone.now(),
        ),
        words={
            "heading": f"A sitting for the {family.name} family",
            "submit": "Book this sitting",
            "back": family.get_absolute_url(),
            "family": family,
        },
    )


@require_http_methods(["GET", "POST"])
def book_again(request: StudioRequest, reference: str) -> HttpResponse:
    job = get_object_or_404(request.unit.jobs.select_related("family"), reference=reference)
    pieces = job.pieces.on_the_job().exclude(prints__live=True).select_related("child")
    children = list(dict.fromkeys(piece.child for piece in pieces))
    form = WhenForm(
        request.POST or None, unit=request.unit, initial=_initial_values(request, children)
    )
    return _sitting_form_page(
        request,
        form,
        children,
        save=lambda: actions.book_again(job, **form.facts, by=request.user, at=timezone.now()),
        words={
            "heading": f"Another sitting for {job.first_names or job.family}",
            "submit": "Book this sitting",
            "back": job.get_absolute_url(),
            "pieces": pieces,
        },
    )


@require_http_methods(["GET", "POST"])
def move_sitting(request: StudioRequest, pk: int) -> HttpResponse:
    sitting = _sitting(request, pk)
    pieces = [each.piece for each in sitting.prints.on_the_job().with_child()]
    children = list(dict.fromkeys(piece.child for piece in pieces))
    form = MoveForm(
        request.POST or None, unit=request.unit, initial=_current_values(request, sitting)
    )
    return _sitting_form_page(
        request,
        form,
        children,
        but=sitting,
        save=lambda: actions.move_sitting(
            sitting, **form.facts, by=request.user, at=timezone.now()
        ),
        words={
            "heading": f"Move the sitting of {sitting.job.first_names}",
            "submit": "Move this sitting",
            "back": sitting.job.get_absolute_url(),
            "pieces": pieces,
        },
    )


@require_http_methods(["GET", "POST"])
def cancel_sitting(request: StudioRequest, pk: int) -> HttpResponse:
    sitting = _sitting(request, pk)
    form = CancelForm(request.POST or None, initial={"version": sitting.version})
    return form_page(
        request,
        form,
        save=lambda: actions.cancel_sitting(
            sitting, **form.facts, by=request.user, at=timezone.now()
        ),
        done=sitting.job.get_absolute_url(),
        said="The sitting is cancelled. Its job waits to be booked again.",
        template="bookings/diary/cancel_sitting.html",
        sitting=sitting,
        when=times.format_time(sitting.starts_at, request.unit.time_zone),
    )


def _sitting(request: StudioRequest, pk: int) -> Sitting:
    sittings = request.unit.sittings.select_related("job__family", "unit")
    return get_object_or_404(sittings.prefetch_related("job__pieces__child"), pk=pk)


def _sitting_form_page(
    request: StudioRequest,
    form: WhenForm,
    children: Sequence[Child],
    *,
    save: Callable[[], Sitting],
    words: dict[str, Any],
    but: Sitting | None = None,
) -> HttpResponse:
    """Page of every form that sets a sitting's time; shows the children's ages on that day."""
    status, differences = status_of(form), []
    if request.method == "POST" and form.is_valid():
        try:
            sitting = save()
        except EditedMeanwhile as edited:
            status, differences = 409, form.show_conflict(edited)
        except Refused as refused:
            status = 409
            form.refuse(refused)
        else:
            when = times.format_time(sitting.starts_at, request.unit.time_zone)
            messages.success(request, f"In the diary: {when}.")
            return redirect(sitting.job)
    day, now = form.day, timezone.now()
    context = {
        **words,
        "form": form,
        "ahead": day and week.day_ahead(request.unit, children, day, now, but=but),
        "offer": day and "promise" in form.fields and _promise_estimate(request, day, now),
        "differences": differences,
    }
    return page_or_part(
        request, "bookings/diary/set_a_time.html", "bookings/diary/_day_ahead.html", context, status
    )


def _promised_on(request: StudioRequest, form: BookingForm) -> date | None:
    """Estimate the day that the plan keeps with 90 % probability; None if not requested or unknown."""
    facts = form.facts
    if not form.by_plan:
        return None
    day = times.local_day(facts["starts_at"], request.unit.time_zone)
    limbs = [limb for _, limb in facts["wanted"]]
    found = promises.estimate_promise(request.unit, day, limbs, timezone.now())
    return found.on if found else None


def _promise_estimate(
    request: StudioRequest, day: date, now: datetime
) -> promises.PromiseEstimate | None:
    """Estimate the promise for a hand and a foot."""
    return promises.estimate_promise(request.unit, day, (Limb.LEFT_HAND, Limb.LEFT_FOOT), now)


def _initial_values(request: StudioRequest, children: Sequence[Child]) -> dict[str, Any]:
    """Initial values: the best day for the youngest child, or tomorrow if that is over."""
    tomorrow = times.local_day(timezone.now(), request.unit.time_zone) + timedelta(days=1)
    best = (ages.best_sitting_on(each.born_on, request.unit.best_months) for each in children)
    return {
        "on": request.GET.get("on") or max([tomorrow, *best]),
        "clock": "10:00",
        "minutes": request.unit.sitting_minutes,
        "young_why": request.GET.get("young_why", ""),
    }


def _current_values(request: StudioRequest, sitting: Sitting) -> dict[str, Any]:
    local = times.to_local(sitting.starts_at, request.unit.time_zone)
    day: date | str = request.GET.get("on") or local.date()
    return {
        "on": day,
        "clock": local.time(),
        "minutes": int((sitting.ends_at - sitting.starts_at).total_seconds() // 60),
        "place": sitting.place,
        "place_words": sitting.place_words,
        "young_why": request.GET.get("young_why", sitting.young_why),
        "version": sitting.version,
    }
