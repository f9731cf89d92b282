"""What bookings has to touch now: its lines on Today."""

from collections.abc import Iterable, Iterator
from datetime import date, datetime

from django.urls import reverse

from bookings import slots
from bookings.models import Impression
from bookings.queries import families_to_erase, jobs_without_a_date, stopped_in_hand
from studio import units
from studio.models import Child, Role, TabletEntry, Unit
from studio.panels import TodayItem, today_source


@today_source(10)
def sittings_to_hold(unit: Unit, role: Role, now: datetime) -> Iterator[TodayItem]:
    """Today's sittings, and those past that nobody finished. Two queries."""
    zone, today = unit.time_zone, slots.local_day(now, unit.time_zone)
    planned = unit.sittings.planned().filter(starts_at__lt=slots.day_bounds(today, zone)[1])
    for sitting in planned.soonest_first().with_people():
        when = slots.format_time(sitting.starts_at, zone)
        yield TodayItem(
            group="sittings",
            title=f"Sitting of {sitting.job.family.name}",
            url=reverse("bookings:sitting", args=[sitting.pk]),
            who=_sitters(sitting.impressions.all(), today),
            reference=sitting.job.reference,
            at=sitting.starts_at,
            due_on=slots.local_day(sitting.starts_at, zone),
            why_late=f"Planned for {when}, and not finished." if sitting.ends_at < now else "",
        )


@today_source(11)
def words_to_choose(unit: Unit, role: Role, now: datetime) -> Iterator[TodayItem]:
    """Sittings about which a tablet said something that waits for a person. Two queries at most."""
    unsettled = TabletEntry.objects.filter(unit=unit).unsettled()
    # Asked by itself: with its sittings in one query, SQLite walks the whole diary for none.
    said = [pk for pk in unsettled.values_list("sitting", flat=True) if pk]
    if not said:
        return
    for sitting in unit.sittings.filter(pk__in=said).select_related("job__family").soonest_first():
        yield TodayItem(
            group="sittings",
            title=f"Choose: a tablet says otherwise, {sitting.job.family.name}",
            url=reverse("bookings:sitting", args=[sitting.pk]),
            who="What it said is kept, and waits for your choice.",
            reference=sitting.job.reference,
            due_on=slots.local_day(now, unit.time_zone),
        )


@today_source(12)
def enquiries_to_answer(unit: Unit, role: Role, now: datetime) -> Iterator[TodayItem]:
    """Everybody who waits for an answer; late after two days. One query."""
    for enquiry in unit.enquiries.waiting():
        reached_by = [enquiry.phone, enquiry.email, enquiry.get_source_display()]
        yield TodayItem(
            group="families",
            title=f"Answer {enquiry.name}",
            url=reverse("bookings:answer_with_family", args=[enquiry.pk]),
            who=", ".join(filter(None, reached_by)),
            due_on=slots.local_day(enquiry.received_at, unit.time_zone),
            why_late=enquiry.why_late(now),
        )


@today_source(14)
def sittings_to_book_again(unit: Unit, role: Role, now: datetime) -> Iterator[TodayItem]:
    """Booked jobs that have no date. Three queries."""
    today = slots.local_day(now, unit.time_zone)
    for job in jobs_without_a_date(unit).order_by("stage_since", "pk").with_people():
        yield TodayItem(
            group="families",
            title=f"Book again: {job.family.name}",
            url=reverse("bookings:book_again", args=[job.reference]),
            who=job.first_names,
            reference=job.reference,
            due_on=today,
        )


@today_source(16)
def words_taken_back(unit: Unit, role: Role, now: datetime) -> Iterator[TodayItem]:
    """Work that a family stopped, for everybody; photographs to erase, for the owner."""
    today = slots.local_day(now, unit.time_zone)
    for family in stopped_in_hand(unit):
        yield TodayItem(
            group="families",
            title=f"Speak with {family.name}",
            url=family.get_absolute_url(),
            who="The casts may not be made any more.",
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
            who=f"{photos} of them, and no yes to keeping them any more.",
            due_on=today,
        )


def _sitters(impressions: Iterable[Impression], today: date) -> str:
    """The children, the eldest first, each with age and limbs that are still part of the job."""
    limbs: dict[Child, list[str]] = {}
    for piece in (each.piece for each in impressions):
        if piece.left_off_at is None:
            limbs.setdefault(piece.child, []).append(piece.get_limb_display())
    return "; ".join(
        f"{child.first_name} ({units.age(child.born_on, today)}): {', '.join(named)}"
        for child, named in sorted(limbs.items(), key=lambda of: (of[0].born_on, of[0].pk))
    )
