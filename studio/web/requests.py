"""Shared by all views: typed request, permissions, page or part, responses, and the frame of a page."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render, resolve_url
from django.urls import reverse
from django.utils.cache import patch_vary_headers
from django.utils.translation import gettext as _
from django_htmx.middleware import HtmxDetails

from studio.roles import Role
from studio.stages import Refused
from studio.versions import EditedMeanwhile

if TYPE_CHECKING:
    from django.forms import BaseForm

    from studio.accounts.models import Membership, Unit, User


class StudioRequest(HttpRequest):
    """A request after the middleware: its user is logged in and belongs to a unit."""

    user: "User"
    unit: "Unit"
    membership: "Membership"
    role: Role
    htmx: HtmxDetails


View = TypeVar("View", bound=Callable[..., HttpResponse])

STAFF = (Role.OWNER, Role.HELPER)


def open_to(*roles: Role) -> Callable[[View], View]:
    """Allow only these roles to use a view; default: the unit's owner and helpers."""

    def mark(view: View) -> View:
        view.roles = roles  # type: ignore[attr-defined]
        return view

    return mark


owner_only = open_to(Role.OWNER)


def page_or_part(
    request: StudioRequest, page: str, part: str, context: dict[str, Any], status: int = 200
) -> HttpResponse:
    """Render the whole page, or only its part for a request of htmx."""
    swap = request.htmx and not request.htmx.boosted and not request.htmx.history_restore_request
    response = render(request, part if swap else page, context, status=status)
    patch_vary_headers(response, ["HX-Request", "HX-Boosted", "HX-History-Restore-Request"])
    return response


def status_of(*forms: "BaseForm") -> int:
    """Return 422 if a form has errors, else 200."""
    return 422 if any(form.is_bound and not form.is_valid() for form in forms) else 200


def form_page(
    request: StudioRequest,
    form: Any,
    *,
    save: Callable[[], object],
    done: str,
    said: str = "Saved.",
    submit: str = "Save",
    template: str = "studio/form_page.html",
    **words: Any,
) -> HttpResponse:
    """Show a form and run its action: errors show it again (422, 409), success redirects to `done` with the message `said`.

    `words` are added to the context: heading; optional over, lead, variant, back; others of `template`.
    """
    status, differences = status_of(form), []
    if request.method == "POST" and form.is_valid():
        try:
            save()
        except EditedMeanwhile as edited:
            status, differences = 409, form.show_conflict(edited)
        except Refused as refused:
            status = 409
            form.refuse(refused)
        else:
            messages.success(request, said)
            return redirect(done)
    context = {
        "form": form,
        "back": resolve_url(done),
        "submit": submit,
        "differences": differences,
        **words,
    }
    return render(request, template, context, status=status)


def pdf_response(data: bytes, name: str) -> HttpResponse:
    """Respond with a PDF to view; caches must not store it."""
    return HttpResponse(
        data,
        content_type="application/pdf",
        headers={
            "Content-Disposition": f'inline; filename="{name}"',
            "Cache-Control": "private, no-store",
        },
    )


def csv_response(text: str, name: str) -> HttpResponse:
    """Respond with a CSV file to download."""
    return HttpResponse(
        text,
        content_type="text/csv; charset=utf-8",
        headers={
            "Content-Disposition": f'attachment; filename="{name}"',
            "Cache-Control": "private, no-store",
        },
    )


def client_key(request: HttpRequest) -> UUID:
    """Return the idempotency key of a form, so that a repeated submission writes once.

    Raises Refused for a missing or broken key; the middleware answers it with the sentence.
    """
    try:
        return UUID(request.POST.get("key", ""))
    except ValueError:
        raise Refused(
            _(
                "This page was sent without its key, so nothing was written. Reload it and press again."
            )
        ) from None


NAV: tuple[tuple[str, str, tuple[Role, ...]], ...] = (
    ("Today", "studio:today", STAFF),
    ("Diary", "bookings:diary", STAFF),
    ("Families", "studio:families", STAFF),
    ("Bench", "production:bench", STAFF),
    ("Frames", "production:frames", STAFF),
    ("Stores", "production:stores", STAFF),
    ("Money", "orders:money", (Role.OWNER,)),
    ("Unit", "studio:unit", (Role.OWNER,)),
    ("Enquiries", "bookings:send_enquiry", (Role.OFFICE,)),
    ("Returns", "orders:returns", (Role.OFFICE,)),
)


class Room(NamedTuple):
    label: str
    url: str


def rooms(role: str) -> list[Room]:
    """List the pages of the navigation that a role may open, in order."""
    return [Room(label, reverse(name)) for label, name, roles in NAV if role in roles]


def frame(request: HttpRequest) -> dict[str, Any]:
    """Context processor: unit, role, navigation, and a new idempotency key at each call."""
    role = getattr(request, "role", "")
    return {
        "unit": getattr(request, "unit", None),
        "currency": unit.currency if (unit := getattr(request, "unit", None)) else "GBP",
        "role": role,
        "fresh_key": uuid4,  # called by the template for each form
        "nav": [
            {**room._asdict(), "current": _is_current(request.path, room.url)}
            for room in rooms(role)
        ],
    }


def _is_current(path: str, url: str) -> bool:
    return path == url if url == "/" else path.startswith(url)
