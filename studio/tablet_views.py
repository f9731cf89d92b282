"""The tablet's addresses that belong to no room: its page, what it takes along, what it sends."""

from datetime import timedelta
from http import HTTPStatus
from typing import Any
from uuid import UUID

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, render
from django.templatetags.static import static
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.csrf import ensure_csrf_cookie
from django.views.decorators.http import require_GET, require_POST

from studio import shell, tablet_actions, tablet_reading
from studio import tablet as core
from studio.http import StudioRequest
from studio.models import TabletEntry
from studio.tablet_http import api, in_words, no, of_this_unit

MOST_ENTRIES = 50


@in_words
@login_not_required  # the worker keeps this page for days without a log-in: it tells nothing
@ensure_csrf_cookie
@require_GET
def tablet(request: HttpRequest) -> HttpResponse:
    context = {
        "shell_version": shell.shell()["version"],
        "log_in_url": f"{reverse('studio:log_in')}?next={reverse('studio:tablet')}",
        "log_out_url": reverse("studio:log_out"),
        "desk_url": reverse("studio:today"),
    }
    return render(request, shell.PAGE, context)


@in_words
@login_not_required  # a browser asks for a manifest without its cookies
@require_GET
def tablet_manifest(request: HttpRequest) -> HttpResponse:
    page = reverse("studio:tablet")
    icons = [("tablet-192", 192, "any"), ("tablet-512", 512, "any"), ("tablet-maskable-512", 512, "maskable")]  # fmt: skip
    manifest: dict[str, Any] = {
        "name": "Caststead, sittings",
        "short_name": "Sittings",
        "id": page,
        "start_url": page,
        "scope": page,
        "display": "standalone",
        "lang": "en-GB",
        "background_color": "#FAF8F4",
        "theme_color": "#FAF8F4",
        "icons": [
            {
                "src": static(f"icons/{name}.png"),
                "sizes": f"{side}x{side}",
                "type": "image/png",
                "purpose": purpose,
            }
            for name, side, purpose in icons
        ],
    }
    return JsonResponse(manifest, content_type="application/manifest+json")


@in_words
@login_not_required  # a browser looks for a newer one by itself
@require_GET
def tablet_worker(request: HttpRequest) -> HttpResponse:
    response = HttpResponse(shell.worker(), content_type="text/javascript; charset=utf-8")
    response["Cache-Control"] = "no-cache"
    return response


@api
@require_GET
@ensure_csrf_cookie
def pack(request: StudioRequest) -> HttpResponse:
    """What the tablet takes along: today's sittings and the next days', and what they need."""
    now, unit = timezone.now(), request.unit
    return JsonResponse(
        {
            "made_at": now.isoformat(),
            "unit": {
                "pk": unit.pk,
                "name": unit.name,
                "currency": unit.currency,
                "time_zone": unit.time_zone,
                "phone": unit.phone,
                "clay_rest_hours": unit.clay_rest_hours,
                "deposit_percent": unit.deposit_percent,
                "deposit_fixed_minor": unit.deposit_fixed_minor,
                "limb_order": unit.limbs,
            },
            "me": {"pk": request.user.pk, "name": str(request.user), "role": request.role},
            **core.pack(unit, request.role, now),
        }
    )


@api
@require_POST
def keep_entries(request: StudioRequest) -> HttpResponse:
    """A batch of the tablet's queue: an answer to each entry, in the same order."""
    now = timezone.now()
    sent = tablet_reading.read_json(request.body)
    if (elsewhere := of_this_unit(request, sent.get("unit"))) is not None:
        return elsewhere
    raws = sent.get("entries")
    if not isinstance(raws, list) or len(raws) > MOST_ENTRIES:
        return no(HTTPStatus.BAD_REQUEST, f"Send a list of at most {MOST_ENTRIES} entries.")
    device = tablet_reading.read_uuid(sent.get("device"), "device")
    skew = tablet_reading.read_moment(sent.get("sent_at")) - now
    kept = [_keep(request, raw, device, skew) for raw in raws]
    # Told when all are in: what a later one of the batch has settled waits for nobody.
    rows = request.unit.tablet_entries.select_related("unit").in_bulk(
        [each.pk for _, each in kept if isinstance(each, TabletEntry)]
    )
    answers = [
        core.answer_to(rows[each.pk], key=key) if isinstance(each, TabletEntry) else each
        for key, each in kept
    ]
    return JsonResponse({"server_time": timezone.now().isoformat(), "answers": answers})


def _keep(
    request: StudioRequest, raw: Any, device: UUID, skew: timedelta
) -> tuple[UUID | None, TabletEntry | dict[str, Any]]:
    """The key that was sent and the row, or the answer to something that could not be read."""
    now = timezone.now()
    try:
        entry = tablet_reading.read_entry(raw, device=device, skew=skew, now=now)
    except tablet_reading.Unreadable as unreadable:
        return None, tablet_reading.unread(raw, unreadable)
    return entry.key, tablet_actions.keep_entry(request.unit, entry=entry, by=request.user, at=now)


@api
@require_POST
def settle_entry(request: StudioRequest, key: UUID) -> HttpResponse:
    """A person's choice about an entry that waits."""
    row = get_object_or_404(request.unit.tablet_entries, key=key)
    sent = tablet_reading.Facts(tablet_reading.read_json(request.body))
    settled = tablet_actions.settle_entry(
        row,
        choice=sent.one_of("choice", (TabletEntry.Choice.MINE, TabletEntry.Choice.THEIRS)),
        seen=sent.whole_or_none("seen", 0, tablet_reading.MOST),
        by=request.user,
        at=timezone.now(),
    )
    return JsonResponse(core.answer_to(settled))
