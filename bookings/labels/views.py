"""Labels of prints as PDF, and the page of a piece that their codes open."""

from collections.abc import Iterable

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from bookings import times
from bookings.diary import week as diary_week
from bookings.labels import paper
from bookings.sittings.models import Sitting
from studio.web import panels
from studio.web.requests import StudioRequest, pdf_response


@require_GET
def piece(request: StudioRequest, reference: str, number: int) -> HttpResponse:
    """One piece with its next step; the address is short, because it is in the label's QR code."""
    job = get_object_or_404(request.unit.jobs.select_related("family"), reference=reference)
    pieces = list(job.pieces.select_related("child"))
    if not 0 < number <= len(pieces):
        raise Http404("This job has no such piece.")
    found = pieces[number - 1]
    found.job = job
    context = {
        "job": job,
        "piece": found,
        "number": number,
        "of": len(pieces),
        "print": found.prints.filter(live=True).select_related("sitting").first(),
        "step": None
        if found.left_off_at
        else panels.next_step(found, request.role, timezone.now()),
        "today": timezone.localdate(),
    }
    return render(request, "bookings/labels/piece.html", context)


@require_GET
def labels_of_sitting(request: StudioRequest, pk: int) -> HttpResponse:
    sittings = request.unit.sittings.with_people().with_pieces()
    held = get_object_or_404(sittings, pk=pk)
    return _printed(request, [held], f"labels-{held.job.display_reference}")


@require_GET
def labels_of_week(request: StudioRequest, week: str) -> HttpResponse:
    try:
        days = diary_week.parse_week(week, timezone.now(), request.unit.time_zone)
    except ValueError as impossible:
        raise Http404(str(impossible)) from None
    start, end = times.day_bounds(days[0], request.unit.time_zone, len(days))
    held = request.unit.sittings.between(start, end).in_diary().with_pieces()
    return _printed(request, held, f"labels-{week}")


def _printed(request: StudioRequest, held: Iterable[Sitting], name: str) -> HttpResponse:
    shape = request.GET.get("paper", "roll")
    if shape not in paper.SHAPES:
        raise Http404("There is no such paper.")

    def address(reference: str, number: int) -> str:
        return request.build_absolute_uri(reverse("bookings:piece", args=[reference, number]))

    found = paper.labels_for_sittings(held, request.unit, address)
    return pdf_response(paper.pdf(found, shape, request.unit), f"{name}.pdf")
