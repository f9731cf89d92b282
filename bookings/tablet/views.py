"""Upload of the tablet's photographs in parts; at the desk, import of its queue and resolving of conflicts."""

from http import HTTPStatus
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from bookings.photos import cleaning
from bookings.tablet import file_import, photo_parts
from bookings.tablet import photos as bookings_tablet_photos
from bookings.tablet.forms import ChoiceForm, PartForm, TabletFileForm
from studio.tablet import actions as studio_tablet_actions
from studio.tablet.api import error_response, refuse_other_unit, tablet_api
from studio.tablet.parsing import Unreadable
from studio.web.requests import StudioRequest, status_of

_STATUS = {
    "": HTTPStatus.OK,
    "kept": HTTPStatus.OK,
    "unreadable": HTTPStatus.UNPROCESSABLE_ENTITY,
}


@tablet_api
@require_http_methods(["GET", "POST"])
def tablet_photo(request: StudioRequest, key: UUID) -> HttpResponse:
    """GET: progress of an upload. POST: one part of the photograph."""
    if request.method == "GET":
        return _upload_progress(request, key)
    if (elsewhere := refuse_other_unit(request, request.POST.get("unit"))) is not None:
        return elsewhere
    now = timezone.now()
    form = PartForm(request.POST, request.FILES, unit=request.unit, key=key)
    if (refusal := _refusal(form)) is not None:
        return refusal
    if form.cleaned_data["offset"] == 0:
        photo_parts.delete_abandoned(now)
    progress = bookings_tablet_photos.receive_part(
        request.unit,
        form.to_upload(skew=form.cleaned_data["sent_at"] - now, now=now),
        offset=form.cleaned_data["offset"],
        content=form.content,
        by=request.user,
        at=now,
    )
    return _answer(progress)


def _upload_progress(request: StudioRequest, key: UUID) -> HttpResponse:
    if kept := bookings_tablet_photos.stored_photo_entry(request.unit, key):
        return JsonResponse({"have": kept.facts["total_bytes"], "state": "kept"})
    return JsonResponse({"have": photo_parts.received_bytes(request.unit, key), "state": ""})


def _refusal(form: PartForm) -> HttpResponse | None:
    if not form.is_valid():
        return error_response(HTTPStatus.BAD_REQUEST, "This part of a photograph was not readable.")
    if form.is_too_large:
        why = f"This photograph is larger than {cleaning.MAX_MB} MB. Send it in a smaller size."
        return error_response(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, why)
    if form.is_too_long:
        return error_response(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, "A part has at most 1 MB.")
    if form.missing:
        return error_response(HTTPStatus.NOT_FOUND, "This job or piece is not in your studio.")
    return None


def _answer(progress: bookings_tablet_photos.Progress) -> HttpResponse:
    state = "refused" if progress.state == "unreadable" else progress.state
    answer = {"have": progress.have, "state": state} | (
        {"why": progress.why} if progress.why else {}
    )
    return JsonResponse(answer, status=_STATUS.get(progress.state, HTTPStatus.CONFLICT))


@require_http_methods(["GET", "POST"])
def import_tablet_file(request: StudioRequest) -> HttpResponse:
    posted = request.method == "POST"
    form = TabletFileForm(request.POST, request.FILES) if posted else TabletFileForm()
    lines = None
    if posted and form.is_valid():
        try:
            lines = file_import.import_queue(
                request.unit, form.cleaned_data["queue"], by=request.user, now=timezone.now()
            )
        except Unreadable as unreadable:
            form.refuse(unreadable)
    return render(
        request,
        "bookings/tablet/import_tablet_file.html",
        {"form": form, "lines": lines},
        status=status_of(form),
    )


@require_POST
def settle_entry(request: StudioRequest, pk: int, key: UUID) -> HttpResponse:
    """Resolve an entry of the tablet: with its facts, or with the current ones."""
    entry = get_object_or_404(request.unit.tablet_entries, sitting=pk, key=key)
    form = ChoiceForm(request.POST)
    if form.is_valid():
        settled = studio_tablet_actions.settle_entry(
            entry, **form.cleaned_data, by=request.user, at=timezone.now()
        )
        if settled.waits:
            messages.error(request, settled.sentence)
        else:
            messages.success(request, "Chosen. The tablet is told when it next sends something.")
    else:
        messages.error(request, "Choose what the tablet says, or what stands.")
    return redirect("bookings:sitting", pk)
