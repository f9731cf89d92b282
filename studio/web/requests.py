"""What every view shares: the typed request, who may come in, page or part, the frame of a page."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render, resolve_url
from django.urls import reverse
from django.utils.cache import patch_vary_headers
from django_htmx.middleware import HtmxDetails

from studio.roles import Role
from studio.stages import Refused
from studio.versions import EditedMeanwhile

if TYPE_CHECKING:
    from django.forms import BaseForm

    from studio.accounts.models import Membership, Unit, User


class StudioRequest(HttpRequest):
    """A request after the middleware: somebody is logged in, and works for one unit."""

    user: "User"
    unit: "Unit"
    membership: "Membership"
    role: Role
    htmx: HtmxDetails


View = TypeVar("View", bound=Callable[..., HttpResponse])

STAFF = (Role.OWNER, Role.HELPER)


def open_to(*roles: Role) -> Callable[[View], View]:
    """Say which roles may use a view; without it, the unit's owner and helpers may."""

    def mark(view: View) -> View:
        view.roles = roles  # type: ignore[attr-defined]
        return view

    return mark


owner_only = open_to(Role.OWNER)


def page_or_part(
    request: StudioRequest, page: str, part: str, context: dict[str, Any], status: int = 200
) -> HttpResponse:
    """The whole page, or to htmx the part of it that changes: one view for both."""
    swap = request.htmx and not request.htmx.boosted and not request.htmx.history_restore_request
    response = render(request, part if swap else page, context, status=status)
    patch_vary_headers(response, ["HX-Request", "HX-Boosted", "HX-History-Restore-Request"])
    return response


def status_of(*forms: "BaseForm") -> int:
    """422 if a form came back with errors, else 200."""
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
    """One form, one action: back filled with a sentence (422, 409), or on to `done` with `said`.

    `words`: heading, and if wanted over, lead, variant, back; what else the `template` takes.
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
    """A paper to look at; nobody between keeps a copy."""
    return HttpResponse(
        data,
        content_type="application/pdf",
        headers={
            "Content-Disposition": f'inline; filename="{name}"',
            "Cache-Control": "private, no-store",
        },
    )


def csv_response(text: str, name: str) -> HttpResponse:
    """A table to take away."""
    return HttpResponse(
        text,
        content_type="text/csv; charset=utf-8",
        headers={
            "Content-Disposition": f'attachment; filename="{name}"',
            "Cache-Control": "private, no-store",
        },
    )


def client_key(request: HttpRequest) -> UUID:
    """The key that makes a repeated press of one button one write.

    Raises Refused for a missing or broken key; the middleware answers it with the sentence.
    """
    try:
        return UUID(request.POST.get("key", ""))
    except ValueError:
        raise Refused(
            "This page was sent without its key, so nothing was written. Reload it and press again."
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
    """The rooms that somebody may enter, the first one first."""
    return [Room(label, reverse(name)) for label, name, roles in NAV if role in roles]


def frame(request: HttpRequest) -> dict[str, Any]:
    """Context processor: the unit, the person's role, the rooms they may enter, and a new key at each call."""
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
