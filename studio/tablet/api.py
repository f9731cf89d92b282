"""Decorators and errors for the tablet's API: answers are always JSON, never the log-in page."""

from collections.abc import Callable
from functools import wraps
from http import HTTPStatus
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import CsrfViewMiddleware
from django.views.decorators.csrf import csrf_exempt

from studio.stages import Refused
from studio.web.requests import STAFF, StudioRequest, View

LOG_IN_AGAIN = "Log in again: nothing on this tablet is lost."

ELSEWHERE = (
    "What waits on this tablet was said for another studio: log in there to send it. It stays kept."
)

RELOAD = "This page is older than your log-in: it was not taken. It is sent again by itself."


def error_response(
    status: HTTPStatus, why: str, *, headers: dict[str, str] | None = None, **more: Any
) -> JsonResponse:
    """An error with its reason as JSON."""
    return JsonResponse({"why": why, **more}, status=status, headers=headers)


def explain_405(view: View) -> View:
    """Decorate a view so that its 405 has a reason as JSON, like its other errors."""

    @wraps(view)
    def answered(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        response = view(request, *args, **kwargs)
        if response.status_code != HTTPStatus.METHOD_NOT_ALLOWED:
            return response
        why = f"This address takes {response['Allow'].replace(', ', ' or ')} only."
        return error_response(
            HTTPStatus.METHOD_NOT_ALLOWED, why, headers={"Allow": response["Allow"]}
        )

    return answered  # type: ignore[return-value]


def refuse_other_unit(request: StudioRequest, unit: Any) -> HttpResponse | None:
    """A 403 for entries made for another unit, else None. `unit` is the key sent by the tablet, "" if none."""
    if unit in (None, "") or str(unit) == str(request.unit.pk):
        return None
    return error_response(HTTPStatus.FORBIDDEN, ELSEWHERE)


def tablet_api(view: View) -> View:
    """Decorate a view of the tablet's API: 401 if not logged in, 403 for the office, 404; a Refused is a 400.

    It checks the log-in itself, because a redirect would put an HTML page into the tablet's queue.
    """

    @login_not_required
    @csrf_exempt  # checked below, after the log-in
    @explain_405
    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        response = _error_before_view(request, view) or _call_view(view, request, *args, **kwargs)
        response["Cache-Control"] = "no-store"
        return response

    return guarded  # type: ignore[return-value]


def _call_view(view: View, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
    try:
        return view(request, *args, **kwargs)
    except Http404:
        return error_response(HTTPStatus.NOT_FOUND, "This is not here, or not yours.")
    except Refused as refused:
        return error_response(HTTPStatus.BAD_REQUEST, " ".join(refused.reasons))


def _error_before_view(request: HttpRequest, view: Callable[..., Any]) -> HttpResponse | None:
    if not request.user.is_authenticated:
        return error_response(HTTPStatus.UNAUTHORIZED, LOG_IN_AGAIN)
    if getattr(request, "role", None) not in STAFF:
        return error_response(HTTPStatus.FORBIDDEN, "This is not part of your work here.")
    return _Csrf(lambda _: HttpResponse()).process_view(request, view, (), {})


class _Csrf(CsrfViewMiddleware):
    def _reject(self, request: HttpRequest, reason: str) -> HttpResponse:
        return error_response(HTTPStatus.FORBIDDEN, RELOAD)
