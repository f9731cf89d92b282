"""Views of the tablet shared by all rooms: its page, manifest, service worker, offline pack, and its queue."""

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

from studio.tablet import actions, app_files, entries, parsing
from studio.tablet.api import error_response, explain_405, refuse_other_unit, tablet_api
from studio.tablet.models import TabletEntry
from studio.web.requests import StudioRequest

MOST_ENTRIES = 50


@explain_405
@login_not_required  # the service worker caches this page for days; it shows nothing private
@ensure_csrf_cookie
@require_GET
def tablet(request: HttpRequest) -> HttpResponse:
    context = {
        "shell_version": app_files.shell()["version"],
        "log_in_url": f"{reverse('studio:log_in')}?next={reverse('studio:tablet')}",
        "log_out_url": reverse("studio:log_out"),
        "desk_url": reverse("studio:today"),
    }
    return render(request, app_files.PAGE, context)


@explain_405
@login_not_required  # browsers request a manifest without cookies
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


@explain_405
@login_not_required  # browsers look for a newer one by themselves
@require_GET
def tablet_worker(request: HttpRequest) -> HttpResponse:
    response = HttpResponse(app_files.worker(), content_type="text/javascript; charset=utf-8")
    response["Cache-Control"] = "no-cache"
    return response


@tablet_api
@require_GET
@ensure_csrf_cookie
def pack(request: StudioRequest) -> HttpResponse:
    """The offline pack as JSON: sittings of today and the next days, and what they need."""
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
            **entries.offline_pack(unit, request.role, now),
        }
    )


@tablet_api
@require_POST
def keep_entries(request: StudioRequest) -> HttpResponse:
    """Store a batch of the tablet's queue; answer each entry, in the same order."""
    now = timezone.now()
    sent = parsing.parse_json(request.body)
    if (elsewhere := refuse_other_unit(request, sent.get("unit"))) is not None:
        return elsewhere
    raws = sent.get("entries")
    if not isinstance(raws, list) or len(raws) > MOST_ENTRIES:
        return error_response(
            HTTPStatus.BAD_REQUEST, f"Send a list of at most {MOST_ENTRIES} entries."
        )
    device = parsing.parse_uuid(sent.get("device"), "device")
    skew = parsing.parse_time(sent.get("sent_at")) - now
    kept = [_keep(request, raw, device, skew) for raw in raws]
    # Answered once all are stored: a later entry of the batch may have settled an earlier one.
    rows = request.unit.tablet_entries.select_related("unit").in_bulk(
        [each.pk for _, each in kept if isinstance(each, TabletEntry)]
    )
    answers = [
        entries.answer_json(rows[each.pk], key=key) if isinstance(each, TabletEntry) else each
        for key, each in kept
    ]
    return JsonResponse({"server_time": timezone.now().isoformat(), "answers": answers})


def _keep(
    request: StudioRequest, raw: Any, device: UUID, skew: timedelta
) -> tuple[UUID | None, TabletEntry | dict[str, Any]]:
    """Store one entry; return the key sent and the row, or the answer to something unreadable."""
    now = timezone.now()
    try:
        entry = parsing.parse_entry(raw, device=device, skew=skew, now=now)
    except parsing.Unreadable as unreadable:
        return None, parsing.unreadable_answer(raw, unreadable)
    return entry.key, actions.keep_entry(request.unit, entry=entry, by=request.user, at=now)


@tablet_api
@require_POST
def settle_entry(request: StudioRequest, key: UUID) -> HttpResponse:
    """Resolve an entry that waits for a person's choice."""
    row = get_object_or_404(request.unit.tablet_entries, key=key)
    sent = parsing.Facts(parsing.parse_json(request.body))
    settled = actions.settle_entry(
        row,
        choice=sent.one_of("choice", (TabletEntry.Choice.MINE, TabletEntry.Choice.THEIRS)),
        seen=sent.whole_or_none("seen", 0, parsing.MAX_INTEGER),
        by=request.user,
        at=timezone.now(),
    )
    return JsonResponse(entries.answer_json(settled))
