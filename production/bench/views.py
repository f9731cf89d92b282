"""The pages Bench and Drying rack, and the forms of one cast or frame."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from production.bench import actions, framing, page, piece_now, wording
from production.bench import weighing as bench_weighing
from production.bench.forms import (
    BagForm,
    PlaceForm,
    PourForm,
    ReopenForm,
    SpoilForm,
    StartFramingForm,
    TickForm,
    WeighForm,
)
from production.casts import forecasts, mixes, pieces
from production.casts.models import Cast, Weighing
from production.drying.warnings import room_warnings
from production.spoilage.lessons import reasons_in_use
from production.stock import costs
from studio import units
from studio.jobs.forms import WhyForm
from studio.jobs.models import Job
from studio.stages import ActionRefused, Refused
from studio.web.forms import StageForm, StudioForm
from studio.web.requests import StudioRequest, client_key, owner_only, page_or_part, status_of


@require_GET
def bench(request: StudioRequest) -> HttpResponse:
    now = timezone.now()
    today = timezone.localdate(now)
    context = {
        "bench": page.bench(request.unit, now),
        "now": now,
        "today": today,
        "week": units.week_of(today),
    }
    return render(request, "production/bench/bench.html", context)


@require_http_methods(["GET", "POST"])
def pour(request: StudioRequest) -> HttpResponse:
    """Show or save a pour. GET with `asked` computes the mix for the ticked `pieces`, else for all that wait."""
    now = timezone.now()
    asked = request.POST or request.GET
    chosen = asked.getlist("pieces") if "asked" in asked or request.POST else None
    bag = BagForm(asked)
    proposed = mixes.proposed_pour(
        request.unit, chosen, now, plaster_pk=asked.get("kind", ""), bag_g=bag.grams
    )
    initial = {**proposed.amounts, "kind": proposed.kind}
    form = PourForm(request.POST or None, unit=request.unit, initial=initial)
    status = status_of(form)
    if request.method == "POST" and form.is_valid():
        try:
            actions.pour(request.unit, **form.cleaned_data, by=request.user, at=now)
        except Refused as refused:
            status = _refuse(form, refused)
        else:
            messages.success(request, "Poured. Write the time on the tray.")
            return redirect("production:bench")
    context = {
        "form": form,
        "bag": bag,
        "proposed": proposed,
        "at_hand": costs.plaster_in_stock(request.unit, proposed.mix.plaster_g),
        "cautions": wording.POURING,
    }
    return page_or_part(
        request, "production/bench/pour.html", "production/bench/_mix.html", context, status=status
    )


@require_GET
def rack(request: StudioRequest) -> HttpResponse:
    """Show the casts on the drying rack as tiles, in the order of their places."""
    now = timezone.now()
    context = {
        "bench": page.bench(request.unit, now),
        "air": (air := forecasts.room_now(request.unit, now)),
        "warnings": room_warnings(air.room),
        "now": now,
    }
    return render(request, "production/bench/rack.html", context)


@require_POST
def demould(request: StudioRequest, pk: int) -> HttpResponse:
    cast = _cast(request, pk)
    out = actions.demould(cast, by=request.user, at=timezone.now(), key=client_key(request))
    messages.success(request, wording.demoulded(out))
    return redirect("production:weigh", out.pk)


@require_http_methods(["GET", "POST"])
def weigh(request: StudioRequest, pk: int) -> HttpResponse:
    cast, now = _cast(request, pk), timezone.now()
    form = WeighForm(request.POST or None)
    following = page.next_to_weigh(request.unit, cast, now)
    status = status_of(form)
    if request.method == "POST" and form.is_valid():
        try:
            bench_weighing.weigh(cast, **form.cleaned_data, by=request.user, at=now)
        except Refused as refused:
            status = _refuse(form, refused)
        else:
            messages.success(request, wording.weighed(piece_now.cast_now(_cast(request, pk), now)))
            return redirect("production:weigh", following.pk) if following else _to_rack()
    context = {
        **_scale(request, cast, now),
        "form": form,
        "following": following,
        "place_form": PlaceForm(free=actions.free_places(request.unit)),
    }
    return render(request, "production/bench/weigh.html", context, status=status)


@require_http_methods(["GET", "POST"])
def strike_weighing(request: StudioRequest, pk: int) -> HttpResponse:
    weighing = get_object_or_404(Weighing, cast__unit=request.unit, pk=pk)
    form = WhyForm(request.POST or None)
    return _written(
        request,
        form,
        write=lambda facts: bench_weighing.strike_weighing(weighing, **facts),
        done=reverse("production:weigh", args=[weighing.cast_id]),
        heading=f"Strike out {weighing.mass_g:g} g of {pieces.day_words(weighing.at)}",
        submit="Strike it out",
    )


@require_http_methods(["GET", "POST"])
def place_on_rack(request: StudioRequest, pk: int) -> HttpResponse:
    cast = _cast(request, pk)
    form = PlaceForm(request.POST or None, free=actions.free_places(request.unit))
    return _written(
        request,
        form,
        write=lambda facts: actions.place_on_rack(cast, **facts),
        done=reverse("production:weigh", args=[pk]),
        heading=f"{cast.piece}: its place on the rack",
        submit="Note its place",
    )


@require_http_methods(["GET", "POST"])
@owner_only
def release_dry(request: StudioRequest, pk: int) -> HttpResponse:
    cast = _cast(request, pk)
    form = WhyForm(request.POST or None)
    return _written(
        request,
        form,
        write=lambda facts: bench_weighing.release_dry(cast, **facts),
        done=reverse("production:weigh", args=[pk]),
        heading=f"{cast.piece}: let it go on before the scale says dry",
        submit="Release it as dry",
        cautions=wording.RELEASING,
    )


@require_http_methods(["GET", "POST"])
def spoil_piece(request: StudioRequest, pk: int) -> HttpResponse:
    cast = _cast(request, pk)
    listed = reasons_in_use(request.unit, timezone.localdate())
    form = SpoilForm(request.POST or None, reasons=listed)
    return _written(
        request,
        form,
        write=lambda facts: actions.spoil_piece(cast, **facts),
        done=cast.piece.job.get_absolute_url(),
        heading=f"{cast.piece}: give this cast up",
        submit="Give it up",
        variant="danger",
    )


@require_POST
def start_framing(request: StudioRequest, reference: str) -> HttpResponse:
    job = _job(request, reference)
    facts = StartFramingForm(request.POST).validated()
    framing.start_framing(job, **facts, by=request.user, at=timezone.now())
    messages.success(request, f"{job.first_names}: the frame is begun, its rack places are free.")
    return redirect(f"{reverse('production:bench')}#frame-{job.reference}")


@require_POST
def tick_frame(request: StudioRequest, reference: str) -> HttpResponse:
    job = _job(request, reference)
    framing.tick_frame(
        job, **TickForm(request.POST).validated(), by=request.user, at=timezone.now()
    )
    if not request.htmx:
        return redirect(f"{reverse('production:bench')}#frame-{job.reference}")
    framed = piece_now.frame_now(job)
    context = {"framed": framed, "said": wording.ticked(framed)}
    return render(request, "production/bench/_frame.html", context)


@require_POST
def make_ready(request: StudioRequest, reference: str) -> HttpResponse:
    job = _job(request, reference)
    facts = StageForm(request.POST).validated()
    framing.make_ready(job, **facts, by=request.user, at=timezone.now())
    messages.success(request, f"{job.first_names}: ready to go home.")
    return redirect("production:bench")


@require_http_methods(["GET", "POST"])
def reopen_frame(request: StudioRequest, reference: str) -> HttpResponse:
    job = _job(request, reference)
    return _written(
        request,
        ReopenForm(request.POST or None, initial={"seen": job.stage}),
        write=lambda facts: framing.reopen_frame(job, **facts),
        done=job.get_absolute_url(),
        heading=f"Take the frame of {job} back to the bench",
        submit="Take it back",
    )


def _cast(request: StudioRequest, pk: int) -> Cast:
    return get_object_or_404(request.unit.casts.with_people(), pk=pk)


def _job(request: StudioRequest, reference: str) -> Job:
    return get_object_or_404(request.unit.jobs.with_people(), reference=reference)


def _to_rack() -> HttpResponse:
    return redirect("production:rack")


def _scale(request: StudioRequest, cast: Cast, now: datetime) -> dict[str, Any]:
    shown = piece_now.cast_now(cast, now)
    return {
        "shown": shown,
        "expected": page.expected(shown),
        "warnings": page.warnings_of(shown, forecasts.DryingRack(request.unit, now)),
        "today": timezone.localdate(now),
    }


def _refuse(form: StudioForm, refused: Refused) -> int:
    form.refuse(refused)
    return 422 if isinstance(refused, ActionRefused) else 409


def _written(
    request: StudioRequest,
    form: StudioForm,
    *,
    write: Callable[[dict[str, Any]], object],
    done: str,
    **context: Any,
) -> HttpResponse:
    """Show a form or run its action: redirect to `done`, or show the form again with the refusal."""
    status = status_of(form)
    if request.method == "POST" and form.is_valid():
        try:
            write({**form.cleaned_data, "by": request.user, "at": timezone.now()})
        except Refused as refused:
            status = _refuse(form, refused)
        else:
            messages.success(request, "Written down.")
            return redirect(done)
    return render(
        request,
        "production/bench/write.html",
        {"form": form, "back": done, **context},
        status=status,
    )
