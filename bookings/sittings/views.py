"""Pages of a sitting: one question per screen, each answer saved before the next is shown."""

from collections.abc import Callable
from http import HTTPStatus
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from bookings import times
from bookings.consent import wording
from bookings.consent.forms import ConsentForm
from bookings.consent.permissions import may_keep_photos, may_make_casts
from bookings.photos.forms import PhotoForm
from bookings.photos.models import Photo
from bookings.sittings import actions, screens, sitters
from bookings.sittings.forms import FinishForm, PrintForm
from bookings.sittings.models import ClayPrint, Sitting
from bookings.sittings.prints import next_tray
from studio.stages import Refused
from studio.tablet import entries
from studio.web.forms import KeyedForm
from studio.web.requests import StudioRequest, page_or_part


@require_GET
def sitting(request: StudioRequest, pk: int) -> HttpResponse:
    return _question(request, _sitting(request, pk), request.GET.get("at", ""))


@require_POST
def log_print(request: StudioRequest, pk: int) -> HttpResponse:
    clay_print = get_object_or_404(ClayPrint, sitting__unit=request.unit, pk=pk)
    held = _sitting(request, clay_print.sitting_id)
    form = PrintForm(request.POST)
    if not form.is_valid():
        return _question(request, held, str(pk), form=form, status=422)
    try:
        actions.log_print(clay_print, **form.cleaned_data, by=request.user, at=timezone.now())
    except Refused as refused:
        form.refuse(refused)
        return _question(request, held, str(pk), form=form, status=409)
    again = clay_print.outcome == ClayPrint.Outcome.REPEAT
    onward = str(pk) if again else screens.next_screen(screens.prints_of(held), clay_print)
    return redirect(f"{reverse('bookings:sitting', args=[held.pk])}?at={onward}")


@require_POST
def finish_sitting(request: StudioRequest, pk: int) -> HttpResponse:
    held = _sitting(request, pk)
    form = FinishForm(request.POST)
    if not form.is_valid():
        return _question(request, held, "summary", form=form, status=422)
    try:
        actions.finish_sitting(held, **form.cleaned_data, by=request.user, at=timezone.now())
    except Refused as refused:
        form.refuse(refused)
        return _question(request, held, "summary", form=form, status=409)
    messages.success(request, "The sitting is finished. Cover the clay, and pour in time.")
    return redirect("bookings:sitting", held.pk)


def _sitting(request: StudioRequest, pk: int) -> Sitting:
    return get_object_or_404(request.unit.sittings.select_related("job__family", "unit"), pk=pk)


def _question(
    request: StudioRequest,
    held: Sitting,
    at: str,
    *,
    form: KeyedForm | None = None,
    status: int = 200,
) -> HttpResponse:
    clay_prints = screens.prints_of(held)
    screen = screens.screen(held, clay_prints, at)
    if screen is None:
        raise Http404("This sitting has no such screen.")
    day = times.local_day(held.starts_at, request.unit.time_zone)
    context = {
        "sitting": held,
        "screen": screen,
        "clay_prints": clay_prints,
        "sitters": sitters.sitters(clay_prints, day),
        "when": times.format_time(held.starts_at, request.unit.time_zone),
        "waiting": entries.unsettled_by_sitting(request.unit, [held.pk]).get(held.pk, []),
        "is_today": day == times.local_day(timezone.now(), request.unit.time_zone),
        "form": form,
        **(_EXTRA[screen.kind](held, screen) if screen.kind in _EXTRA else {}),
    }
    if form is not None:
        context["form"] = form
    response = page_or_part(
        request,
        "bookings/sittings/sitting.html",
        "bookings/sittings/_question.html",
        context,
        status,
    )
    if status != HTTPStatus.OK:
        # The address stays the question's: that of the press cannot be opened again.
        response["HX-Push-Url"] = "false"
    return response


def _consent(held: Sitting, screen: screens.Screen) -> dict[str, Any]:
    family = held.job.family
    return {
        "wording": wording.find_wording(screen.purpose),
        "standing": family.consents.in_force().filter(purpose=screen.purpose).first(),
        "form": ConsentForm(initial={"purpose": screen.purpose, "given_by": family.contact_name}),
        "key": uuid4(),
    }


def _limb(held: Sitting, screen: screens.Screen) -> dict[str, Any]:
    clay_print = screen.clay_print
    if clay_print is None:
        raise Http404("This sitting has no such limb.")
    keeps = may_keep_photos(held.job.family)
    tray = clay_print.tray or next_tray(held.unit)
    return {
        "form": PrintForm(
            initial={"tray": tray, "note": clay_print.note, "seen_version": clay_print.version}
        ),
        "may_keep_photos": keeps,
        "may_make_casts": may_make_casts(held.job.family),
        "photo_form": PhotoForm(
            job=held.job, initial={"piece": clay_print.piece, "kind": Photo.Kind.SITTING}
        ),
        "photos": clay_print.piece.photos.with_job() if keeps else (),
    }


def _summary(held: Sitting, screen: screens.Screen) -> dict[str, Any]:
    clay_prints = screens.prints_of(held)
    outcomes = [each.outcome for each in clay_prints]
    return {
        "form": FinishForm(),
        "open": [each for each in clay_prints if not each.settled],
        "taken": outcomes.count(ClayPrint.Outcome.TAKEN),
        "put_off": outcomes.count(ClayPrint.Outcome.NOT_TODAY),
        "may_make_casts": may_make_casts(held.job.family),
    }


_EXTRA: dict[str, Callable[[Sitting, screens.Screen], dict[str, Any]]] = {
    "cautions": lambda held, screen: {"cautions": screens.CAUTIONS},
    "consent": _consent,
    "limb": _limb,
    "summary": _summary,
}
