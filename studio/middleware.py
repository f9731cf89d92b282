"""Puts the person's unit on the request, and turns a refusal into a page that explains itself."""

from collections.abc import Callable
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from studio.http import STAFF
from studio.models import Membership, Role, Unit
from studio.stages import Refused


class UnitMiddleware:
    """`request.unit`, `.membership` and `.role` for every view behind the log-in, in local time.

    Views marked `login_not_required` and the admin are left alone. A role that the view does not
    name gets 403; somebody without a unit too. A `Refused` that a view lets through becomes 409.
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
        # The membership feeds the navigation of public pages too, so it is looked up for all.
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
            {"reasons": exception.reasons, "back": _way_back(request)},
            status=409,
        )

    @staticmethod
    def _membership(request: HttpRequest) -> Membership | None:
        if not request.user.is_authenticated:
            return None
        return request.user.memberships.select_related("unit").order_by("pk").first()


class FirstRunMiddleware:
    """While the database holds no unit, every page leads to the one that makes it."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response
        self.done = False

    def __call__(self, request: HttpRequest) -> HttpResponse:
        # Asked until the answer is yes, then never again in this process.
        self.done = self.done or Unit.objects.exists()
        first_run = reverse("studio:first_run")
        if not self.done and not request.path.startswith((first_run, "/static/")):
            return redirect(first_run)
        return self.get_response(request)


def _admin_root() -> str:
    return reverse("admin:index")


def _way_back(request: HttpRequest) -> str:
    """The page to look again: the job's if the address names one, else Today."""
    match = request.resolver_match
    reference = match.kwargs.get("reference") if match else None
    return reverse("studio:job", args=[reference]) if reference else reverse("studio:today")
