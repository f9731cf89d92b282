"""Page of statistics of past sittings."""

from datetime import timedelta

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from bookings.outcomes import lessons
from bookings.outcomes.reads import prints_since, repeat_events_since
from bookings.sittings.models import Sitting
from studio.limbs import Limb
from studio.web.requests import StudioRequest

LOOKS_BACK = timedelta(days=730)


@require_GET
def learning(request: StudioRequest) -> HttpResponse:
    since = timezone.now() - LOOKS_BACK
    prints = prints_since(request.unit, since)
    events = repeat_events_since(request.unit, since)
    context = {
        "since": timezone.localdate(since),
        "overall": lessons.overall(prints),
        "booked_again": sum(each.what == "book_again" for each in events),
        "groups": [
            ("By age", "age", lessons.by_age(prints)),
            ("By limb", "limb", lessons.by_limb(prints, [limb.label for limb in Limb])),
            ("By place", "place", lessons.by_place(prints, [each.label for each in Sitting.Place])),
        ],
        "reasons": [
            ("Taken again or put off", "again", lessons.repeat_reasons(events)),
            ("Prints lost", "lost", lessons.lost_print_reasons(events)),
            ("Casts given up", "given-up", lessons.spoiled_cast_reasons(events)),
            ("Sittings cancelled", "cancelled", lessons.cancelled_sitting_reasons(events)),
        ],
    }
    return render(request, "bookings/outcomes/learning.html", context)
