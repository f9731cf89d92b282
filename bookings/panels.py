"""What bookings shows on a job's page, a family's and a label's."""

from datetime import datetime

from django.urls import reverse

from bookings import ages, objections, queries, slots, wording
from bookings.forms import ConsentForm
from bookings.models import Sitting
from studio.models import Family, Job, Piece, Role
from studio.panels import (
    NextStep,
    Panel,
    family_panel,
    job_panel,
    piece_step,
)
from studio.stages import Stage


@job_panel(10)
def sitting_of_job(job: Job, role: Role, now: datetime) -> Panel:
    """The job's sittings, newest first, what became of each limb, and the photographs."""
    zone = job.unit.time_zone
    sittings = list(job.sittings.order_by("-starts_at").with_people())
    keeps, is_stopped = queries.family_says(job.family)
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
                    "when": slots.format_time(each.starts_at, zone, slots.local_day(now, zone)),
                    "is_late": each == planned and each.ends_at < now,
                }
                for each in sittings
            ],
            "may_book_again": job.stage == Stage.BOOKED and planned is None,
            "keeps": keeps,
            "photos": job.photos.with_job() if keeps else (),
            "stopped": is_stopped,
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
    when = slots.format_time(planned.starts_at, piece.job.unit.time_zone)
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
                    "form": ConsentForm(
                        initial={"purpose": purpose, "given_by": family.contact_name},
                        auto_id=f"{purpose}_%s",
                    ),
                }
                for purpose, asked in wording.WORDINGS.items()
            ],
        },
    )
