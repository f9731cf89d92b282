"""What bookings shows on pages that belong to all: Today, a job, a family."""

from collections.abc import Iterator
from datetime import datetime
from uuid import uuid4

from django.urls import reverse

from bookings import ages, diary, objections, slots, wording
from bookings.forms import ConsentForm
from bookings.models import Enquiry, Sitting
from bookings.queries import families_to_erase, jobs_without_a_date, keeps_photos, stopped
from studio.models import Family, Job, Piece, Role, Unit
from studio.panels import (
    NextStep,
    Panel,
    TodayItem,
    family_panel,
    job_panel,
    piece_step,
    today_source,
)
from studio.stages import Stage
from studio.words import name_events

name_events(
    add_photo="Photograph kept",
    arrive="The family is here",
    book_again="Booked again",
    book_sitting="Sitting booked",
    cancel_sitting="Sitting cancelled",
    erase_photos="Photographs erased",
    finish_sitting="Sitting finished",
    log_impression="Impression logged",
    lose_impression="Print lost",
    move_sitting="Sitting moved",
    reopen_sitting="Sitting opened again",
)


@today_source(10)
def sittings_to_hold(unit: Unit, role: Role, now: datetime) -> Iterator[TodayItem]:
    """Today's sittings, and those past that nobody finished. Three queries."""
    today = slots.local_day(now, unit.time_zone)
    _, end = slots.day_bounds(today, unit.time_zone)
    due = unit.sittings.planned().filter(starts_at__lt=end).soonest_first().with_people()
    for sitting in due:
        sitters = diary.sitters(sitting.impressions.all(), today)
        yield TodayItem(
            group="sittings",
            title=f"Sitting of {sitting.job.family}",
            url=reverse("bookings:sitting", args=[sitting.pk]),
            who="; ".join(f"{each.first_name} ({each.age}): {each.limbs}" for each in sitters),
            reference=sitting.job.reference,
            at=sitting.starts_at,
            due_on=slots.local_day(sitting.starts_at, unit.time_zone),
            why_late=_why_late(sitting, unit, now),
        )


@today_source(11)
def words_to_choose(unit: Unit, role: Role, now: datetime) -> Iterator[TodayItem]:
    """Sittings about which a tablet said something that waits for a person. Two queries."""
    said = unit.tablet_entries.unsettled().order_by().values("sitting")
    for sitting in unit.sittings.filter(pk__in=said).select_related("job__family").soonest_first():
        yield TodayItem(
            group="sittings",
            title=f"Choose: a tablet says otherwise, {sitting.job.family}",
            url=reverse("bookings:sitting", args=[sitting.pk]),
            who="What it said is kept, and waits for your choice.",
            reference=sitting.job.reference,
            due_on=slots.local_day(now, unit.time_zone),
        )


@today_source(12)
def enquiries_to_answer(unit: Unit, role: Role, now: datetime) -> Iterator[TodayItem]:
    """Everybody who waits for an answer; late after two days. One query."""
    for enquiry in unit.enquiries.waiting():
        yield TodayItem(
            group="families",
            title=f"Answer {enquiry.name}",
            url=reverse("bookings:answer_with_family", args=[enquiry.pk]),
            who=_how_to_reach(enquiry),
            due_on=slots.local_day(enquiry.received_at, unit.time_zone),
            why_late=enquiry.why_late(now),
        )


@today_source(14)
def sittings_to_book_again(unit: Unit, role: Role, now: datetime) -> Iterator[TodayItem]:
    """Booked jobs that have no date. Three queries."""
    for job in jobs_without_a_date(unit).with_people().order_by("stage_since"):
        yield TodayItem(
            group="families",
            title=f"Book again: {job.family}",
            url=reverse("bookings:book_again", args=[job.reference]),
            who=job.first_names,
            reference=job.reference,
            due_on=slots.local_day(now, unit.time_zone),
        )


@today_source(16)
def words_taken_back(unit: Unit, role: Role, now: datetime) -> Iterator[TodayItem]:
    """Work that a family stopped, for everybody; photographs to erase, for the owner. Three queries."""
    for family in stopped(unit.jobs.in_hand()):
        yield TodayItem(
            group="families",
            title=f"Speak with {family}",
            url=family.get_absolute_url(),
            who="The casts may not be made any more.",
            due_on=slots.local_day(now, unit.time_zone),
            why_late="They took back their yes: stop the work on their job.",
        )
    if role != Role.OWNER:
        return
    for family, count in families_to_erase(unit):
        yield TodayItem(
            group="families",
            title=f"Erase photographs: {family}",
            url=reverse("bookings:erase_photos", args=[family.pk]),
            who=f"{count} of them, and no yes to keeping them any more.",
            due_on=slots.local_day(now, unit.time_zone),
        )


@job_panel(10)
def sitting_of_job(job: Job, role: Role, now: datetime) -> Panel:
    """The job's sittings, newest first, what became of each limb, and the photographs."""
    zone = job.unit.time_zone
    sittings = list(job.sittings.order_by("-starts_at").with_people())
    keeps = keeps_photos(job.family)
    planned = next((each for each in sittings if each.state == Sitting.State.PLANNED), None)
    return Panel(
        title="Sitting",
        template="bookings/_job_panel.html",
        anchor="sitting",
        context={
            "job": job,
            "planned": planned,
            "sittings": [
                {
                    "sitting": each,
                    "when": slots.say_moment(each.starts_at, zone, slots.local_day(now, zone)),
                    "is_late": each == planned and each.ends_at < now,
                }
                for each in sittings
            ],
            "may_book_again": job.stage == Stage.BOOKED and planned is None,
            "keeps": keeps,
            "photos": job.photos.with_job() if keeps else (),
            "stopped": bool(stopped([job])),
        },
    )


@piece_step(10)
def print_of_piece(piece: Piece, role: Role, now: datetime) -> NextStep | None:
    """To be taken, or booked again; once it is in the clay the bench knows more. One query."""
    if piece.job.stage != Stage.BOOKED:
        return None
    planned = piece.job.sittings.planned().first()
    if planned is None:
        again = reverse("bookings:book_again", args=[piece.job.reference])
        return NextStep("It waits for a sitting.", again, "Book another sitting")
    when = slots.say_moment(planned.starts_at, piece.job.unit.time_zone)
    return NextStep(
        f"Its sitting is on {when}.",
        reverse("bookings:sitting", args=[planned.pk]),
        "Open the sitting",
    )


@family_panel(5)
def best_days_of_family(family: Family, role: Role, now: datetime) -> Panel | None:
    """How old each child is for a sitting, and the day to book; None without children."""
    today = slots.local_day(now, family.unit.time_zone)
    children = [
        {
            "child": child,
            "advice": objections.advise(family.unit, child, today),
            "best_on": best_on if best_on > today else None,
        }
        for child in family.children.oldest_first()
        for best_on in [ages.best_sitting_on(child.born_on, family.unit.best_months)]
    ]
    if not children:
        return None
    return Panel(
        title="Book",
        template="bookings/_best_days_panel.html",
        anchor="book",
        context={"family": family, "children": children, "today": today},
    )


@family_panel(10)
def words_of_family(family: Family, role: Role, now: datetime) -> Panel:
    """Each purpose with the family's standing yes or the question to ask; photographs to erase."""
    to_erase = family.unit.photos.to_erase().filter(job__family=family).count()
    ended = {
        each.purpose: each for each in family.consents.filter(withdrawn_at__isnull=False)[::-1]
    }
    standing = {each.purpose: each for each in family.consents.standing()}
    return Panel(
        title="Consent",
        template="bookings/_family_panel.html",
        anchor="consent",
        context={
            "family": family,
            "to_erase": to_erase,
            "may_erase": role == Role.OWNER,
            "questions": [
                {
                    "wording": asked,
                    "consent": standing.get(purpose),
                    "ended": None if purpose in standing else ended.get(purpose),
                    "key": uuid4(),
                    "form": ConsentForm(
                        initial={"purpose": purpose, "given_by": family.contact_name},
                        auto_id=f"{purpose}_%s",
                    ),
                }
                for purpose, asked in wording.WORDINGS.items()
            ],
        },
    )


def _why_late(sitting: Sitting, unit: Unit, now: datetime) -> str:
    if sitting.ends_at >= now:
        return ""
    when = slots.say_moment(sitting.starts_at, unit.time_zone)
    return f"Planned for {when}, and not finished."


def _how_to_reach(enquiry: Enquiry) -> str:
    return ", ".join(filter(None, [enquiry.phone, enquiry.email, enquiry.get_source_display()]))
