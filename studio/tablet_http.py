"""How the tablet's own addresses answer: always JSON, never the log-in page."""

from collections.abc import Callable
from functools import wraps
from http import HTTPStatus
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import CsrfViewMiddleware
from django.views.decorators.csrf import csrf_exempt

from studio.http import STAFF, StudioRequest, View
from studio.stages import Refused

LOG_IN_AGAIN = "Log in again: nothing on this tablet is lost."
ELSEWHERE = (
    "What waits on this tablet was said for another studio: log in there to send it. It stays kept."
)
RELOAD = "This page is older than your log-in: it was not taken. It is sent again by itself."


def no(
    status: HTTPStatus, why: str, *, headers: dict[str, str] | None = None, **more: Any
) -> JsonResponse:
    """A no in words; `headers` beside them."""
    return JsonResponse({"why": why, **more}, status=status, headers=headers)


def in_words(view: View) -> View:
    """A view whose 405 says what is the matter, as its other noes do."""

    @wraps(view)
    def answered(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        response = view(request, *args, **kwargs)
        if response.status_code != HTTPStatus.METHOD_NOT_ALLOWED:
            return response
        why = f"This address takes {response['Allow'].replace(', ', ' or ')} only."
        return no(HTTPStatus.METHOD_NOT_ALLOWED, why, headers={"Allow": response["Allow"]})

    return answered  # type: ignore[return-value]


def of_this_unit(request: StudioRequest, unit: Any) -> HttpResponse | None:
    """None, or the no to what was tapped for another studio; `unit` as sent, "" where it was not."""
    if unit in (None, "") or str(unit) == str(request.unit.pk):
        return None
    return no(HTTPStatus.FORBIDDEN, ELSEWHERE)


def api(view: View) -> View:
    """A view for the tablet: 401 where nobody is logged in, 403 for the office, 404; a Refused is 400.

    It looks at the log-in itself: a redirect would end as a page of HTML in the tablet's queue.
    """

    @login_not_required
    @csrf_exempt  # looked at below, after the log-in
    @in_words
    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        response = _refusal(request, view) or _answered(view, request, *args, **kwargs)
        response["Cache-Control"] = "no-store"
        return response

    return guarded  # type: ignore[return-value]


def _answered(view: View, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
    try:
        return view(request, *args, **kwargs)
    except Http404:
        return no(HTTPStatus.NOT_FOUND, "This is not here, or not yours.")
    except Refused as refused:
        return no(HTTPStatus.BAD_REQUEST, " ".join(refused.reasons))


def _refusal(request: HttpRequest, view: Callable[..., Any]) -> HttpResponse | None:
    if not request.user.is_authenticated:
        return no(HTTPStatus.UNAUTHORIZED, LOG_IN_AGAIN)
    if getattr(request, "role", None) not in STAFF:
        return no(HTTPStatus.FORBIDDEN, "This is not part of your work here.")
    return _Csrf(lambda _: HttpResponse()).process_view(request, view, (), {})


class _Csrf(CsrfViewMiddleware):
    def _reject(self, request: HttpRequest, reason: str) -> HttpResponse:
        return no(HTTPStatus.FORBIDDEN, RELOAD)
