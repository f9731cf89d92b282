"""Views of frames, cuttings, offcuts, and of the range under Unit."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from production.frames import actions, job_frames
from production.frames import page as frames_page
from production.frames.forms import (
    CuttingForm,
    FrameForm,
    FrameHabitsForm,
    FrameSizeForm,
    MouldingForm,
    OffcutForm,
)
from production.frames.panel import frame_shown
from studio.stages import ActionRefused
from studio.web.requests import StudioRequest, client_key, form_page, owner_only, pdf_response


@require_GET
def frames(request: StudioRequest) -> HttpResponse:
    page = _asked(request)
    context = {"page": page, "week": page.week}
    return render(request, "production/frames/frames.html", context)


@require_GET
def cutting_paper(request: StudioRequest) -> HttpResponse:
    page = _asked(request)
    if page.week is None or page.week.plan is None:
        raise ActionRefused("There is no frame to cut: tick one on the page Frames first.")
    return pdf_response(frames_page.cutting_pdf(request.unit, page, timezone.now()), "cutting.pdf")


@require_POST
def confirm_cutting(request: StudioRequest) -> HttpResponse:
    facts = CuttingForm(request.POST, unit=request.unit).validated()
    cutting = actions.confirm_cutting(request.unit, **facts, by=request.user, at=timezone.now())
    messages.success(request, "Written down. What is left over has its labels below.")
    return redirect(cutting)


@require_GET
def cutting(request: StudioRequest, pk: int) -> HttpResponse:
    cuttings = request.unit.cuttings.select_related("moulding", "by")
    shown = get_object_or_404(cuttings.prefetch_related("offcuts", "used_offcuts"), pk=pk)
    return render(request, "production/frames/cutting.html", {"cutting": shown})


@require_GET
def offcut_labels(request: StudioRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(request.unit.cuttings, pk=pk)
    offcuts = list(shown.offcuts.select_related("moulding"))
    if not offcuts:
        raise ActionRefused("Nothing was left over that is worth a label.")
    return pdf_response(frames_page.label_pdf(request.unit, offcuts), f"offcuts-{pk}.pdf")


@require_GET
def offcut_label(request: StudioRequest, pk: int) -> HttpResponse:
    offcut = get_object_or_404(request.unit.offcuts.select_related("moulding"), pk=pk)
    return pdf_response(frames_page.label_pdf(request.unit, [offcut]), f"{offcut.label}.pdf")


@require_http_methods(["GET", "POST"])
def add_offcut(request: StudioRequest) -> HttpResponse:
    form = OffcutForm(request.POST or None, unit=request.unit)

    def save() -> None:
        facts = dict(form.cleaned_data)
        key, moulding = facts.pop("key"), facts.pop("moulding")
        actions.add_offcut(moulding, facts=facts, at=timezone.now(), key=key)

    return form_page(
        request,
        form,
        save=save,
        done="production:frames",
        said="It lies in the rack.",
        heading="An offcut for the rack",
        submit="Put it into the rack",
    )


@require_POST
def throw_away_offcut(request: StudioRequest, pk: int) -> HttpResponse:
    offcut = get_object_or_404(request.unit.offcuts, pk=pk)
    client_key(request)
    actions.throw_away_offcut(offcut, at=timezone.now())
    return redirect(f"{reverse('production:frames')}#rack")


@require_http_methods(["GET", "POST"])
def choose_frame(request: StudioRequest, reference: str) -> HttpResponse:
    """Show a job's frame to scale with its dimensions, and let the studio change it."""
    job = get_object_or_404(request.unit.jobs.with_people(), reference=reference)
    now = timezone.now()
    form = FrameForm(request.POST or None, job=job)
    return form_page(
        request,
        form,
        save=lambda: actions.choose_frame(
            job,
            facts=form.facts,
            seen_version=form.cleaned_data["version"],
            by=request.user,
            at=now,
            key=form.cleaned_data["key"],
        ),
        done=request.path,
        said="The frame is drawn anew.",
        submit="Draw this frame",
        template="production/frames/choose_frame.html",
        heading=f"{job.first_names}: the frame",
        back=f"{job.get_absolute_url()}#frame",
        job=job,
        frame=frame_shown(job, timezone.localdate(now)),
    )


@require_GET
@owner_only
def frame_range(request: StudioRequest) -> HttpResponse:
    context = {"range": job_frames.frame_range(request.unit)}
    return render(request, "production/frames/frame_range.html", context)


@require_http_methods(["GET", "POST"])
@owner_only
def edit_frame_habits(request: StudioRequest) -> HttpResponse:
    habits = job_frames.frame_range(request.unit).habits
    form = FrameHabitsForm(request.POST or None, instance=habits)
    return form_page(
        request,
        form,
        save=lambda: actions.edit_frame_habits(
            request.unit, facts=form.facts, seen_version=form.cleaned_data["version"]
        ),
        done="production:frame_range",
        heading="How you lay and build",
    )


@require_http_methods(["GET", "POST"])
@owner_only
def add_moulding(request: StudioRequest) -> HttpResponse:
    form = MouldingForm(request.POST or None, unit=request.unit)
    return form_page(
        request,
        form,
        save=lambda: actions.add_moulding(request.unit, facts=form.facts),
        done="production:frame_range",
        heading="A moulding",
        submit="Add it",
    )


@require_http_methods(["GET", "POST"])
@owner_only
def edit_moulding(request: StudioRequest, pk: int) -> HttpResponse:
    moulding = get_object_or_404(request.unit.mouldings, pk=pk)
    form = MouldingForm(request.POST or None, unit=request.unit, instance=moulding)
    return form_page(
        request,
        form,
        save=lambda: actions.edit_moulding(
            moulding, facts=form.facts, seen_version=form.cleaned_data["version"]
        ),
        done="production:frame_range",
        heading=str(moulding),
    )


@require_POST
@owner_only
def retire_moulding(request: StudioRequest, pk: int) -> HttpResponse:
    moulding = get_object_or_404(request.unit.mouldings, pk=pk)
    client_key(request)
    actions.retire_moulding(moulding, at=timezone.now())
    return redirect("production:frame_range")


@require_http_methods(["GET", "POST"])
@owner_only
def add_frame_size(request: StudioRequest) -> HttpResponse:
    form = FrameSizeForm(request.POST or None, unit=request.unit)

    def save() -> None:
        facts = {name: form.cleaned_data[name] for name in ("name", "width_mm", "height_mm")}
        actions.add_frame_size(request.unit, facts=facts)

    return form_page(
        request,
        form,
        save=save,
        done="production:frame_range",
        heading="A size of frame",
        submit="Add it",
    )


@require_POST
@owner_only
def drop_frame_size(request: StudioRequest, pk: int) -> HttpResponse:
    size = get_object_or_404(request.unit.frame_sizes, pk=pk)
    client_key(request)
    actions.drop_frame_size(size)
    return redirect("production:frame_range")


def _asked(request: StudioRequest) -> frames_page.FramesPage:
    asked = request.GET
    ticked = asked.getlist("jobs") if "asked" in asked else None
    return frames_page.frames_page(
        request.unit, timezone.now(), moulding=asked.get("moulding", ""), ticked=ticked
    )
