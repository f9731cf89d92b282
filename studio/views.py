"""The pages that belong to no single room: Today, families, a job, the unit, the way in."""

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import LoginView
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from studio import actions, panels, queries, references
from studio.forms import (
    ChildForm,
    FamilyForm,
    FirstRunForm,
    PersonForm,
    PromiseForm,
    UnitForm,
    WhyForm,
)
from studio.http import (
    STAFF,
    StudioRequest,
    form_page,
    open_to,
    owner_only,
    page_or_part,
    rooms,
    status_of,
)
from studio.models import Child, Piece, Role, Unit
from studio.stages import Refused

FAMILIES_A_PAGE = 40


class LogInView(LoginView):
    redirect_authenticated_user = True


@login_not_required
@require_http_methods(["GET", "POST"])
def first_run(request: HttpRequest) -> HttpResponse:
    if request.method == "GET" and Unit.objects.exists():
        return redirect("studio:log_in")
    form = FirstRunForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            membership = actions.set_up_unit(**form.facts)
        except Refused as refused:
            form.refuse(refused)
        else:
            login(request, membership.user)
            messages.success(request, "Your studio is set up. Begin with your prices.")
            return redirect("studio:unit")
    return render(request, "studio/first_run.html", {"form": form}, status=status_of(form))


@require_GET
@open_to(*Role)
def today(request: StudioRequest) -> HttpResponse:
    """The day's work; whoever has no part in it comes to the first of their own rooms."""
    if request.role not in STAFF:
        return redirect(rooms(request.role)[0].url)
    now = timezone.now()
    day = queries.todays(panels.today(request.unit, request.role, now), now)
    context = {
        "day": day,
        "is_new": day.is_empty and not request.unit.families.exists(),
        "now": timezone.localtime(now),
    }
    return render(request, "studio/today.html", context)


@require_GET
def families(request: StudioRequest) -> HttpResponse:
    words = request.GET.get("q", "").strip()
    found = request.unit.families.called(words).by_name().prefetch_related("children", "jobs")
    page = Paginator(found, FAMILIES_A_PAGE).get_page(request.GET.get("page"))
    return page_or_part(
        request,
        "studio/families.html",
        "studio/_families.html",
        {"page": page, "words": words, "today": timezone.localdate()},
    )


@require_GET
def family(request: StudioRequest, pk: int) -> HttpResponse:
    family = get_object_or_404(request.unit.families, pk=pk)
    context = {
        "family": family,
        "children": family.children.oldest_first(),
        "jobs": family.jobs.with_people().order_by("-opened_at"),
        "panels": panels.of_family(family, request.role, timezone.now()),
        "today": timezone.localdate(),
    }
    return render(request, "studio/family.html", context)


@require_http_methods(["GET", "POST"])
def add_family(request: StudioRequest) -> HttpResponse:
    today = timezone.localdate()
    form = FamilyForm(request.POST or None)
    child = ChildForm(request.POST or None, today=today, prefix="child")
    if request.method == "POST" and form.is_valid() and child.is_valid():
        family = actions.add_family(request.unit, facts=form.facts, children=[child.facts])
        messages.success(request, f"{family} is in your families.")
        return redirect(family)
    return render(
        request,
        "studio/add_family.html",
        {"form": form, "child_form": child},
        status=status_of(form, child),
    )


@require_http_methods(["GET", "POST"])
def edit_family(request: StudioRequest, pk: int) -> HttpResponse:
    family = get_object_or_404(request.unit.families, pk=pk)
    form = FamilyForm(request.POST or None, instance=family, initial={"version": family.version})
    return form_page(
        request,
        form,
        save=lambda: actions.edit_family(
            family, facts=form.facts, seen_version=form.cleaned_data["version"]
        ),
        done=family.get_absolute_url(),
        heading=f"The {family.name} family",
    )


@require_http_methods(["GET", "POST"])
def add_child(request: StudioRequest, pk: int) -> HttpResponse:
    family = get_object_or_404(request.unit.families, pk=pk)
    form = ChildForm(request.POST or None, today=timezone.localdate())
    return form_page(
        request,
        form,
        save=lambda: actions.add_child(family, facts=form.facts),
        done=family.get_absolute_url(),
        heading=f"A child of the {family.name} family",
    )


@require_http_methods(["GET", "POST"])
def edit_child(request: StudioRequest, pk: int) -> HttpResponse:
    child = get_object_or_404(Child, family__unit=request.unit, pk=pk)
    form = ChildForm(
        request.POST or None,
        instance=child,
        initial={"version": child.version},
        today=timezone.localdate(),
    )
    return form_page(
        request,
        form,
        save=lambda: actions.edit_child(
            child, facts=form.facts, seen_version=form.cleaned_data["version"]
        ),
        done=child.family.get_absolute_url(),
        heading=child.first_name,
    )


@require_GET
def job(request: StudioRequest, reference: str) -> HttpResponse:
    job = get_object_or_404(
        request.unit.jobs.with_people().select_related("split_from"), reference=reference
    )
    now = timezone.now()
    events = queries.history_of(job)
    context = {
        "job": job,
        "steps": queries.steps_of(job, events),
        "events": events,
        "panels": panels.of_job(job, request.role, now),
        "late": queries.is_late(job, timezone.localdate(now)),
        "promise_form": None if job.is_closed else PromiseForm(),
    }
    return render(request, "studio/job.html", context)


@require_GET
def find_job(request: StudioRequest) -> HttpResponse:
    """Opens a job by the reference on a slip, as read or heard."""
    written = request.GET.get("reference", "")
    try:
        found = get_object_or_404(request.unit.jobs, reference=references.normalise(written))
    except ValueError as broken:
        messages.error(request, str(broken))
        return redirect("studio:today")
    except Http404:
        messages.error(request, f"No job here has the reference {written}.")
        return redirect("studio:today")
    return redirect(found)


@require_http_methods(["GET", "POST"])
def promise(request: StudioRequest, reference: str) -> HttpResponse:
    job = get_object_or_404(request.unit.jobs, reference=reference)
    form = PromiseForm(request.POST or None, initial={"promised_on": job.promised_on})
    return form_page(
        request,
        form,
        save=lambda: actions.promise(job, **form.cleaned_data, by=request.user, at=timezone.now()),
        done=job.get_absolute_url(),
        heading=f"The promise for {job}",
    )


@require_http_methods(["GET", "POST"])
def leave_off_piece(request: StudioRequest, pk: int) -> HttpResponse:
    piece = get_object_or_404(Piece, job__unit=request.unit, pk=pk, left_off_at=None)
    form = WhyForm(request.POST or None)
    return form_page(
        request,
        form,
        save=lambda: actions.leave_off_piece(
            piece, **form.cleaned_data, by=request.user, at=timezone.now()
        ),
        done=piece.job.get_absolute_url(),
        heading=f"Leave off: {piece}",
    )


@require_GET
@owner_only
def unit(request: StudioRequest) -> HttpResponse:
    people = request.unit.memberships.select_related("user").order_by("pk")
    return render(request, "studio/unit.html", {"people": people})


@require_http_methods(["GET", "POST"])
@owner_only
def edit_unit(request: StudioRequest) -> HttpResponse:
    unit = request.unit
    form = UnitForm(request.POST or None, instance=unit, initial={"version": unit.version})
    return form_page(
        request,
        form,
        save=lambda: actions.edit_unit(
            unit, facts=form.facts, seen_version=form.cleaned_data["version"]
        ),
        done="studio:unit",
        heading=unit.name,
    )


@require_http_methods(["GET", "POST"])
@owner_only
def add_person(request: StudioRequest) -> HttpResponse:
    form = PersonForm(request.POST or None, initial={"role": Role.HELPER})
    return form_page(
        request,
        form,
        save=lambda: actions.add_person(request.unit, **form.cleaned_data),
        done="studio:unit",
        heading="A log-in for somebody else",
    )
