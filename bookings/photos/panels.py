from collections.abc import Iterator
from datetime import datetime

from django.urls import reverse

from bookings import times
from bookings.consent.permissions import open_families_without_consent
from bookings.photos.erasure import families_to_erase
from studio.accounts.models import Unit
from studio.roles import Role
from studio.web.panels import TodayItem, today_source


@today_source(16)
def withdrawn_consents(unit: Unit, role: Role, now: datetime) -> Iterator[TodayItem]:
    """Families that withdrew their consent to the casts; photographs to erase, for the owner."""
    today = times.local_day(now, unit.time_zone)
    for family in open_families_without_consent(unit):
        yield TodayItem(
            group="families",
            title=f"Speak with {family.name}",
            url=family.get_absolute_url(),
            detail="The casts may not be made any more.",
            due_on=today,
            why_late="They took back their yes: stop the work on their job.",
        )
    if role != Role.OWNER:
        return
    for family, photos in families_to_erase(unit):
        yield TodayItem(
            group="families",
            title=f"Erase photographs: {family.name}",
            url=reverse("bookings:erase_photos", args=[family.pk]),
            detail=f"{photos} of them, and no longer any consent to keep them.",
            due_on=today,
        )
