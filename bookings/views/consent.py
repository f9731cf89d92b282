"""A family's word, given and taken back, and the photographs that rest on it."""

from django.contrib import messages
from django.http import FileResponse, Http404, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from bookings import actions, wording
from bookings.forms import ConsentForm, PhotoForm
from bookings.models import Consent
from bookings.queries import keeps_photos
from studio.forms import KeyedForm
from studio.http import StudioRequest, client_key, owner_only, status_of
from studio.stages import Refused

_TAKEN_BACK: dict[str, str] = {
    Consent.Purpose.MAKE: "The yes to the casts is taken back: stop the work, and speak with them.",
    Consent.Purpose.KEEP: (
        "The yes to photographs is taken back, and with it that to showing them. Nobody is shown "
        "them from now on; they wait here to be erased."
    ),
    Consent.Purpose.SHOW: "The yes to showing is taken back. It counts from now on, everywhere.",
}


@require_POST
def give_consent(request: StudioRequest, pk: int) -> HttpResponse:
    family = get_object_or_404(request.unit.families, pk=pk)
    form = ConsentForm(request.POST)
    back = _back(request, family.get_absolute_url())
    if not form.is_valid():
        context = {
            "form": form,
            "family": family,
            "back": back,
            "wording": wording.WORDINGS.get(request.POST.get("purpose", "")),
        }
        return render(request, "bookings/give_consent.html", context, status=422)
    actions.give_consent(family, **form.cleaned_data, by=request.user, at=timezone.now())
    messages.success(request, "The family’s yes is written down.")
    return redirect(back)


@require_POST
def withdraw_consent(request: StudioRequest, pk: int) -> HttpResponse:
    consent = get_object_or_404(Consent, family__unit=request.unit, pk=pk)
    actions.withdraw_consent(consent, by=request.user, at=timezone.now(), key=client_key(request))
    messages.success(request, _TAKEN_BACK[consent.purpose])
    return redirect(_back(request, consent.family.get_absolute_url()))


@require_http_methods(["GET", "POST"])
def add_photo(request: StudioRequest, reference: str) -> HttpResponse:
    job = get_object_or_404(request.unit.jobs.select_related("family"), reference=reference)
    posted = request.method == "POST"
    form = PhotoForm(request.POST, request.FILES, job=job) if posted else PhotoForm(job=job)
    back = _back(request, job.get_absolute_url())
    status = status_of(form)
    if posted and form.is_valid():
        try:
            actions.add_photo(job, **form.facts, by=request.user, at=timezone.now())
        except Refused as refused:
            status = 409
            form.refuse(refused)
        else:
            messages.success(request, "The photograph is kept.")
            return redirect(back)
    context = {"form": form, "job": job, "back": back, "keeps": keeps_photos(job.family)}
    return render(request, "bookings/add_photo.html", context, status=status)


@require_http_methods(["GET", "POST"])
@owner_only
def erase_photos(request: StudioRequest, pk: int) -> HttpResponse:
    """What would go, then, pressed once more, the end of it: nothing brings it back."""
    family = get_object_or_404(request.unit.families, pk=pk)
    found = request.unit.photos.to_erase().filter(job__family=family).with_job()
    form = KeyedForm(request.POST if request.method == "POST" else None)
    status = status_of(form)
    if request.method == "POST" and form.is_valid():
        try:
            actions.erase_photos(
                family, by=request.user, at=timezone.now(), key=form.cleaned_data["key"]
            )
        except Refused as refused:
            status = 409
            form.refuse(refused)
        else:
            messages.success(request, "The photographs are erased.")
            return redirect(family)
    context = {"form": form, "family": family, "photos": found}
    return render(request, "bookings/erase_photos.html", context, status=status)


@require_GET
def photo(request: StudioRequest, public_id: str) -> HttpResponseBase:
    """The picture in the size that is asked for, to the unit's staff, while the yes stands."""
    found = get_object_or_404(request.unit.photos.showable(), public_id=public_id)
    try:
        opened = found.in_size(request.GET.get("size", "full")).open("rb")
    except (KeyError, FileNotFoundError):
        raise Http404("There is no such file of this photograph.") from None
    response = FileResponse(opened, content_type="image/jpeg", filename="photograph.jpg")
    response["Cache-Control"] = "private, no-store"
    response["X-Content-Type-Options"] = "nosniff"
    return response


def _back(request: StudioRequest, default: str) -> str:
    """The page of ours that the form names to go back to."""
    named = request.POST.get("back", "")
    return named if named and url_has_allowed_host_and_scheme(named, None) else default
