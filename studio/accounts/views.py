from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from studio.accounts import actions
from studio.accounts.forms import FirstRunForm, PersonForm, UnitForm
from studio.accounts.models import Unit
from studio.roles import Role
from studio.stages import Refused
from studio.web.requests import StudioRequest, form_page, owner_only, status_of


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
    return render(request, "studio/accounts/first_run.html", {"form": form}, status=status_of(form))


@require_GET
@owner_only
def unit(request: StudioRequest) -> HttpResponse:
    people = request.unit.memberships.select_related("user").order_by("pk")
    return render(request, "studio/accounts/unit.html", {"people": people})


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
