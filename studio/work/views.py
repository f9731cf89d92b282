"""Page of background work: its progress, its result, and a retry after a failure."""

from django.core.exceptions import PermissionDenied
from django.core.files.storage import default_storage
from django.http import FileResponse, Http404
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from studio.web.requests import StudioRequest, client_key, page_or_part
from studio.work import queue
from studio.work.models import Work


@require_GET
def work(request: StudioRequest, pk: int) -> HttpResponseBase:
    context = {"work": _work(request, pk)}
    response = page_or_part(request, "studio/work/work.html", "studio/work/_work.html", context)
    response["Cache-Control"] = "private, no-store"
    return response


@require_GET
def work_file(request: StudioRequest, pk: int) -> HttpResponseBase:
    found = _work(request, pk)
    if not found.file or not default_storage.exists(found.file):
        raise Http404("This file was kept for a week and is gone. Make it again.")
    return FileResponse(
        default_storage.open(found.file),
        filename=found.file_name,
        content_type=found.content_type,
        headers={"Cache-Control": "private, no-store"},
    )


@require_POST
def retry_work(request: StudioRequest, pk: int) -> HttpResponseBase:
    client_key(request)
    return redirect(queue.retry_work(_work(request, pk), at=timezone.now()))


def _work(request: StudioRequest, pk: int) -> Work:
    found = get_object_or_404(request.unit.works, pk=pk)
    if not queue.may_see(found, request.role):
        raise PermissionDenied("This is not part of your work here.")
    return found
