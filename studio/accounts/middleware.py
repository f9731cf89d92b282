"""Middleware: the user's unit and role on the request, refusals as pages, and the first run."""

from collections.abc import Callable
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from studio.accounts.models import Membership, Unit
from studio.roles import Role
from studio.stages import Refused
from studio.web.requests import STAFF


class UnitMiddleware:
    """Set `request.unit`, `.membership` and `.role` and the unit's time zone for views behind the log-in.

    Answers 403 for a role that the view does not allow and for a user without a unit; views marked `login_not_required`
    and the admin are not restricted. A `Refused` raised by a view becomes 409.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        try:
            return self.get_response(request)
        finally:
            timezone.deactivate()

    def process_view(
        self, request: HttpRequest, view: Callable[..., Any], args: Any, kwargs: Any
    ) -> HttpResponseBase | None:
        # Public pages show the navigation to users who are logged in, so this is looked up for all views.
        membership = self._membership(request)
        if membership:
            request.membership = membership  # type: ignore[attr-defined]
            request.unit = membership.unit  # type: ignore[attr-defined]
            timezone.activate(membership.unit.time_zone)
            request.role = Role(membership.role)  # type: ignore[attr-defined]
        if not getattr(view, "login_required", True) or request.path.startswith(_admin_root()):
            return None
        if membership is None:
            raise PermissionDenied("This log-in does not belong to a studio. Ask its owner.")
        if membership.role not in getattr(view, "roles", STAFF):
            raise PermissionDenied("This page is not part of your work here.")
        return None

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if not isinstance(exception, Refused):
            return None
        part = getattr(request, "htmx", False)
        return render(
            request,
            "parts/refused.html" if part else "409.html",
            {"reasons": exception.reasons, "back": _back_url(request)},
            status=409,
        )

    @staticmethod
    def _membership(request: HttpRequest) -> Membership | None:
        if not request.user.is_authenticated:
            return None
        return request.user.memberships.select_related("unit").order_by("pk").first()


class FirstRunMiddleware:
    """Redirect every page to the first-run page until the database has a unit."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response
        self.done = False

    def __call__(self, request: HttpRequest) -> HttpResponse:
        # Queried until there is a unit, then never again in this process.
        self.done = self.done or Unit.objects.exists()
        first_run = reverse("studio:first_run")
        if not self.done and not request.path.startswith((first_run, "/static/")):
            return redirect(first_run)
        return self.get_response(request)


def _admin_root() -> str:
    return reverse("admin:index")


def _back_url(request: HttpRequest) -> str:
    """URL to go back to after a refusal: the job's page if the URL names a job, else Today."""
    match = request.resolver_match
    reference = match.kwargs.get("reference") if match else None
    return reverse("studio:job", args=[reference]) if reference else reverse("studio:today")
