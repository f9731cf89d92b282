from collections.abc import Iterator
from datetime import datetime

from django.urls import reverse

from bookings import times
from studio.accounts.models import Unit
from studio.roles import Role
from studio.web.panels import TodayItem, today_source


@today_source(12)
def enquiries_to_answer(unit: Unit, role: Role, now: datetime) -> Iterator[TodayItem]:
    """Enquiries without an answer; late after two days. One query."""
    for enquiry in unit.enquiries.waiting():
        reached_by = [enquiry.phone, enquiry.email, enquiry.get_source_display()]
        yield TodayItem(
            group="families",
            title=f"Answer {enquiry.name}",
            url=reverse("bookings:answer_with_family", args=[enquiry.pk]),
            detail=", ".join(filter(None, reached_by)),
            due_on=times.local_day(enquiry.received_at, unit.time_zone),
            why_late=enquiry.why_late(now),
        )
