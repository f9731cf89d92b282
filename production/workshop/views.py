"""Views of plasters, workshop, room readings and moulds."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from production.casts import forecasts, mixes
from production.casts.models import Plaster
from production.workshop import actions
from production.workshop.forms import MouldForm, PlasterForm, RoomForm, WorkshopForm
from studio.jobs.models import Piece
from studio.web.requests import StudioRequest, client_key, form_page, owner_only

SHEET = "Take the figures from the maker’s data sheet: it comes before anything said here."


@require_GET
@owner_only
def workshop(request: StudioRequest) -> HttpResponse:
    now = timezone.now()
    context = {
        "plasters": request.unit.plasters.in_use(),
        "tools": forecasts.workshop(request.unit),
        "air": forecasts.room_now(request.unit, now),
        "fill": mixes.learnt_fill(request.unit),
        "days": list(forecasts.typical_drying(forecasts.DryingRack(request.unit, now)).values()),
        "unit_consistency": str(request.unit.consistency),
    }
    return render(request, "production/workshop/workshop.html", context)


@require_http_methods(["GET", "POST"])
@owner_only
def add_plaster(request: StudioRequest) -> HttpResponse:
    form = PlasterForm(request.POST or None)
    return form_page(
        request,
        form,
        save=lambda: actions.add_plaster(request.unit, facts=form.facts),
        done="production:workshop",
        heading="A plaster that you mix",
        lead=SHEET,
    )


@require_http_methods(["GET", "POST"])
@owner_only
def edit_plaster(request: StudioRequest, pk: int) -> HttpResponse:
    plaster = get_object_or_404(request.unit.plasters.in_use(), pk=pk)
    form = PlasterForm(request.POST or None, instance=plaster, initial={"version": plaster.version})
    return form_page(
        request,
        form,
        save=lambda: actions.edit_plaster(
            Plaster.objects.get(pk=pk), facts=form.facts, seen_version=form.cleaned_data["version"]
        ),
        done="production:workshop",
        heading=plaster.name,
        lead=SHEET,
    )


@require_POST
@owner_only
def put_plaster_away(request: StudioRequest, pk: int) -> HttpResponse:
    plaster = get_object_or_404(request.unit.plasters, pk=pk)
    client_key(request)
    actions.put_plaster_away(plaster, at=timezone.now())
    messages.success(request, f"{plaster} is no longer offered.")
    return redirect("production:workshop")


@require_http_methods(["GET", "POST"])
@owner_only
def edit_workshop(request: StudioRequest) -> HttpResponse:
    tools = forecasts.workshop(request.unit)
    form = WorkshopForm(request.POST or None, instance=tools, initial={"version": tools.version})
    return form_page(
        request,
        form,
        save=lambda: actions.edit_workshop(
            request.unit,
            facts=form.facts,
            seen_version=form.cleaned_data["version"],
            at=timezone.now(),
        ),
        done="production:workshop",
        heading="Your tools and your drying room",
    )


@require_http_methods(["GET", "POST"])
def read_room(request: StudioRequest) -> HttpResponse:
    form = RoomForm(request.POST or None)
    return form_page(
        request,
        form,
        save=lambda: actions.read_room(
            request.unit, **form.cleaned_data, by=request.user, at=timezone.now()
        ),
        done="production:rack",
        said="The room is written down; the days on the rack follow it.",
        heading="The drying room now",
        lead="What thermometer and hygrometer beside the rack show.",
        submit="Write it down",
    )


@require_http_methods(["GET", "POST"])
def measure_mould(request: StudioRequest, pk: int) -> HttpResponse:
    piece = get_object_or_404(Piece, job__unit=request.unit, pk=pk)
    mould = getattr(piece, "mould", None)
    known = {"outline": "rectangle", "depth_mm": forecasts.workshop(request.unit).depth_mm}
    if mould:
        known = {
            name: getattr(mould, name) for name in ("outline", "length_mm", "width_mm", "depth_mm")
        }
    form = MouldForm(request.POST or None, initial=known)
    return form_page(
        request,
        form,
        save=lambda: actions.measure_mould(
            piece, **form.cleaned_data, by=request.user, at=timezone.now()
        ),
        done="production:pour",
        heading=f"Measure the mould: {piece}",
        lead="In millimetres, on the clay where the plaster will lie. Its mix is then worked out for this piece.",
        submit="Note its size",
    )
