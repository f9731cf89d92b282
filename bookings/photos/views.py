from django.http import FileResponse, Http404, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from bookings.consent.permissions import may_keep_photos
from bookings.consent.views import back_url
from bookings.photos import actions as photos_actions
from bookings.photos.forms import PhotoForm
from studio.web.forms import KeyedForm
from studio.web.requests import StudioRequest, form_page, owner_only


@require_http_methods(["GET", "POST"])
def add_photo(request: StudioRequest, reference: str) -> HttpResponse:
    job = get_object_or_404(request.unit.jobs.select_related("family"), reference=reference)
    posted = request.method == "POST"
    form = PhotoForm(request.POST, request.FILES, job=job) if posted else PhotoForm(job=job)
    return form_page(
        request,
        form,
        save=lambda: photos_actions.add_photo(
            job, **form.facts, by=request.user, at=timezone.now()
        ),
        done=back_url(request, job.get_absolute_url()),
        said="The photograph is kept.",
        template="bookings/photos/add_photo.html",
        job=job,
        keeps=may_keep_photos(job.family),
    )


@require_http_methods(["GET", "POST"])
@owner_only
def erase_photos(request: StudioRequest, pk: int) -> HttpResponse:
    """List the photographs to erase; erase them for good after confirmation."""
    family = get_object_or_404(request.unit.families, pk=pk)
    form = KeyedForm(request.POST if request.method == "POST" else None)
    return form_page(
        request,
        form,
        save=lambda: photos_actions.erase_photos(
            family, by=request.user, at=timezone.now(), key=form.cleaned_data["key"]
        ),
        done=family.get_absolute_url(),
        said="The photographs are erased.",
        template="bookings/photos/erase_photos.html",
        family=family,
        photos=request.unit.photos.to_erase().filter(job__family=family).with_job(),
    )


@require_GET
def photo(request: StudioRequest, public_id: str) -> HttpResponseBase:
    """Send a photograph in the requested size to the unit's staff, while consent is in force."""
    found = get_object_or_404(request.unit.photos.showable(), public_id=public_id)
    try:
        opened = found.in_size(request.GET.get("size", "full")).open("rb")
    except (KeyError, FileNotFoundError):
        raise Http404("There is no such file of this photograph.") from None
    response = FileResponse(opened, content_type="image/jpeg", filename="photograph.jpg")
    response["Cache-Control"] = "private, no-store"
    response["X-Content-Type-Options"] = "nosniff"
    return response
