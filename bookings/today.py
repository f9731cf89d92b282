"""What bookings has to touch now: its lines on Today. One query each."""

from collections.abc import Iterator, Sequence
from datetime import date, datetime
from itertools import groupby
from typing import TYPE_CHECKING, Any

from django.urls import reverse

from bookings import slots
from bookings.models import Enquiry, Sitting
from bookings.queries import families_to_erase, jobs_without_a_date, stopped_in_hand
from studio import units
from studio.heads import heads, read_heads
from studio.kept import Kept, Row, question
from studio.models import Job, Limb, Role, TabletEntry, Unit
from studio.panels import TodayItem, today_source
from studio.watched import watched

if TYPE_CHECKING:
    from django.db.models import QuerySet


@today_source(10)
def sittings_to_hold(unit: Unit, role: Role, now: datetime) -> Iterator[TodayItem]:
    """Today's sittings, and those past that nobody finished."""
    zone, today = unit.time_zone, slots.local_day(now, unit.time_zone)
    rows = _planned(unit.pk, slots.day_bounds(today, zone)[1])
    for (pk, starts_at, ends_at, family, reference), lot in groupby(rows, lambda row: row[:5]):
        when = slots.format_time(starts_at, zone)
        yield TodayItem(
            group="sittings",
            title=f"Sitting of {family}",
            url=reverse("bookings:sitting", args=[pk]),
            who=_sitters([row[5:] for row in lot], today),
            reference=reference,
            at=starts_at,
            due_on=slots.local_day(starts_at, zone),
            why_late=f"Planned for {when}, and not finished." if ends_at < now else "",
        )


@today_source(11)
def words_to_choose(unit: Unit, role: Role, now: datetime) -> Iterator[TodayItem]:
    """Sittings about which a tablet said something that waits for a person."""
    if not _unsettled(unit.pk):
        return
    for pk, family, reference in _said_otherwise(unit.pk):
        yield TodayItem(
            group="sittings",
            title=f"Choose: a tablet says otherwise, {family}",
            url=reverse("bookings:sitting", args=[pk]),
            who="What it said is kept, and waits for your choice.",
            reference=reference,
            due_on=slots.local_day(now, unit.time_zone),
        )


@today_source(12)
def enquiries_to_answer(unit: Unit, role: Role, now: datetime) -> Iterator[TodayItem]:
    """Everybody who waits for an answer; late after two days."""
    for pk, name, received_at, phone, email, source in _waiting(unit.pk):
        yield TodayItem(
            group="families",
            title=f"Answer {name}",
            url=reverse("bookings:answer_with_family", args=[pk]),
            who=", ".join(filter(None, [phone, email, Enquiry.Source(source).label])),
            due_on=slots.local_day(received_at, unit.time_zone),
            why_late=Enquiry(received_at=received_at).why_late(now),
        )


@today_source(14)
def sittings_to_book_again(unit: Unit, role: Role, now: datetime) -> Sequence[TodayItem]:
    """Booked jobs that have no date."""
    today = slots.local_day(now, unit.time_zone)
    return _to_book_again.of(unit.pk, (_without_a_date.raw(unit.pk), today))


@today_source(16)
def words_taken_back(unit: Unit, role: Role, now: datetime) -> Sequence[TodayItem]:
    """Work that a family stopped, for everybody; photographs to erase, for the owner."""
    today = slots.local_day(now, unit.time_zone)
    return _taken_back(unit.pk, today, owner=role == Role.OWNER)


@watched
def _taken_back(unit_pk: int, today: date, *, owner: bool) -> tuple[TodayItem, ...]:
    return tuple(_items_taken_back(Unit.objects.get(pk=unit_pk), today, owner=owner))


def _items_taken_back(unit: Unit, today: date, *, owner: bool) -> Iterator[TodayItem]:
    for family in stopped_in_hand(unit):
        yield TodayItem(
            group="families",
            title=f"Speak with {family.name}",
            url=family.url,
            who="The casts may not be made any more.",
            due_on=today,
            why_late="They took back their yes: stop the work on their job.",
        )
    if not owner:
        return
    for family in families_to_erase(unit):
        yield TodayItem(
            group="families",
            title=f"Erase photographs: {family.name}",
            url=reverse("bookings:erase_photos", args=[family.pk]),
            who=f"{family.photos} of them, and no yes to keeping them any more.",
            due_on=today,
        )


@question
def _planned(unit_pk: int, before: datetime) -> "QuerySet[Sitting, Row]":
    """A row for each limb; `before` is a day's end."""
    planned = Sitting.objects.filter(unit=unit_pk, starts_at__lt=before).planned()
    limb = "impressions__piece__"
    return planned.order_by("starts_at", "pk", "impressions__pk").values_list(
        *("pk", "starts_at", "ends_at", "job__family__name", "job__reference"),
        *(f"{limb}left_off_at", f"{limb}limb", f"{limb}child", f"{limb}child__first_name"),
        f"{limb}child__born_on",
    )


def _sitters(limbs: list[list[Any]], today: date) -> str:
    """The children, the eldest first, each with age and limbs that are still part of the job."""
    taken: dict[tuple[date, int, str], list[str]] = {}
    for left_off_at, limb, child, first_name, born_on in limbs:
        if limb and not left_off_at:
            taken.setdefault((born_on, child, first_name), []).append(Limb(limb).label)
    return "; ".join(
        f"{first_name} ({units.age(born_on, today)}): {', '.join(named)}"
        for (born_on, _, first_name), named in sorted(taken.items())
    )


@question
def _unsettled(unit_pk: int) -> "QuerySet[TabletEntry, Row]":
    """Asked by itself: with its sittings in one read, SQLite walks the whole diary for none."""
    return TabletEntry.objects.filter(unit=unit_pk).unsettled().values_list("pk")


@question
def _said_otherwise(unit_pk: int) -> "QuerySet[Sitting, Row]":
    said = TabletEntry.objects.filter(unit=unit_pk).unsettled().order_by().values("sitting")
    sittings = Sitting.objects.filter(unit=unit_pk, pk__in=said).soonest_first()
    return sittings.values_list("pk", "job__family__name", "job__reference")


@question
def _waiting(unit_pk: int) -> "QuerySet[Enquiry, Row]":
    waiting = Enquiry.objects.filter(unit=unit_pk).waiting()
    return waiting.values_list("pk", "name", "received_at", "phone", "email", "source")


@question
def _without_a_date(unit_pk: int) -> "QuerySet[Job, Row]":
    return heads(jobs_without_a_date(unit_pk).order_by("stage_since"))


def _again_items(known: tuple[list[Row], date]) -> list[TodayItem]:
    rows, today = known
    return [
        TodayItem(
            group="families",
            title=f"Book again: {job.family}",
            url=reverse("bookings:book_again", args=[job.reference]),
            who=job.first_names,
            reference=job.reference,
            due_on=today,
        )
        for job in read_heads(_without_a_date.read(rows))
    ]


_to_book_again = Kept(_again_items)
