from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from studio.families import actions as families_actions
from studio.families.forms import ChildForm, FamilyForm
from studio.families.models import Child
from studio.web import panels
from studio.web.requests import StudioRequest, form_page, page_or_part, status_of

FAMILIES_A_PAGE = 40


@require_GET
def families(request: StudioRequest) -> HttpResponse:
    words = request.GET.get("q", "").strip()
    found = request.unit.families.search(words).by_name().prefetch_related("children", "jobs")
    page = Paginator(found, FAMILIES_A_PAGE).get_page(request.GET.get("page"))
    return page_or_part(
        request,
        "studio/families/families.html",
        "studio/families/_families.html",
        {"page": page, "words": words, "today": timezone.localdate()},
    )


@require_GET
def family(request: StudioRequest, pk: int) -> HttpResponse:
    family = get_object_or_404(request.unit.families, pk=pk)
    context = {
        "family": family,
        "children": family.children.oldest_first(),
        "jobs": family.jobs.with_people().order_by("-opened_at"),
        "panels": panels.family_panels(family, request.role, timezone.now()),
        "today": timezone.localdate(),
    }
    return render(request, "studio/families/family.html", context)


@require_http_methods(["GET", "POST"])
def add_family(request: StudioRequest) -> HttpResponse:
    today = timezone.localdate()
    form = FamilyForm(request.POST or None)
    child = ChildForm(request.POST or None, today=today, prefix="child")
    if request.method == "POST" and form.is_valid() and child.is_valid():
        family = families_actions.add_family(request.unit, facts=form.facts, children=[child.facts])
        messages.success(request, f"{family} is in your families.")
        return redirect(family)
    return render(
        request,
        "studio/families/add_family.html",
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
        save=lambda: families_actions.edit_family(
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
        save=lambda: families_actions.add_child(family, facts=form.facts),
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
        save=lambda: families_actions.edit_child(
            child, facts=form.facts, seen_version=form.cleaned_data["version"]
        ),
        done=child.family.get_absolute_url(),
        heading=child.first_name,
    )
