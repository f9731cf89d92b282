from collections.abc import Iterable, Iterator
from datetime import date, datetime

from django.urls import reverse

from bookings import times
from bookings.consent import permissions
from bookings.sittings.models import ClayPrint, Sitting
from bookings.sittings.prints import jobs_without_sitting
from studio import units
from studio.accounts.models import Unit
from studio.families.models import Child
from studio.jobs.models import Job, Piece
from studio.roles import Role
from studio.stages import Stage
from studio.tablet.models import TabletEntry
from studio.web.panels import NextStep, Panel, TodayItem, job_panel, piece_step, today_source


@job_panel(10)
def sitting_of_job(job: Job, role: Role, now: datetime) -> Panel:
    """Sittings of a job, newest first, with the outcome of each print, and the photographs."""
    zone = job.unit.time_zone
    sittings = list(job.sittings.order_by("-starts_at").with_people())
    consent = permissions.consent_state(job.family)
    planned = next((each for each in sittings if each.state == Sitting.State.PLANNED), None)
    return Panel(
        title="Sitting",
        template="bookings/sittings/_job_panel.html",
        anchor="sitting",
        context={
            "job": job,
            "planned": planned,
            "sittings": [
                {
                    "sitting": each,
                    "when": times.format_time(each.starts_at, zone, times.local_day(now, zone)),
                    "is_late": each == planned and each.ends_at < now,
                }
                for each in sittings
            ],
            "may_book_again": job.stage == Stage.BOOKED and planned is None,
            "keeps": consent.may_keep_photos,
            "photos": job.photos.with_job() if consent.may_keep_photos else (),
            "stopped": consent.casts_withdrawn,
        },
    )


@piece_step(10)
def print_of_piece(piece: Piece, role: Role, now: datetime) -> NextStep | None:
    """Next step of a piece that is still to be sat for; later steps are known by production. One query."""
    if piece.job.stage != Stage.BOOKED:
        return None
    planned = piece.job.sittings.planned().first()
    if planned is None:
        again = reverse("bookings:book_again", args=[piece.job.reference])
        return NextStep("It waits for a sitting.", again, "Book another sitting")
    when = times.format_time(planned.starts_at, piece.job.unit.time_zone)
    return NextStep(
        f"Its sitting is on {when}.",
        reverse("bookings:sitting", args=[planned.pk]),
        "Open the sitting",
    )


@today_source(10)
def sittings_to_hold(unit: Unit, role: Role, now: datetime) -> Iterator[TodayItem]:
    """Sittings of today, and earlier ones that were not finished. Four queries."""
    zone, today = unit.time_zone, times.local_day(now, unit.time_zone)
    planned = unit.sittings.planned().filter(starts_at__lt=times.day_bounds(today, zone)[1])
    for sitting in planned.soonest_first().with_people():
        when = times.format_time(sitting.starts_at, zone)
        yield TodayItem(
            group="sittings",
            title=f"Sitting of {sitting.job.family.name}",
            url=reverse("bookings:sitting", args=[sitting.pk]),
            who=_sitters(sitting.prints.all(), today),
            reference=sitting.job.reference,
            at=sitting.starts_at,
            due_on=times.local_day(sitting.starts_at, zone),
            why_late=f"Planned for {when}, and not finished." if sitting.ends_at < now else "",
        )


@today_source(11)
def entries_to_choose(unit: Unit, role: Role, now: datetime) -> Iterator[TodayItem]:
    """Sittings with a tablet entry that waits for a person's choice. At most two queries."""
    unsettled = TabletEntry.objects.filter(unit=unit).unsettled()
    # A query of its own: joined with the sittings, SQLite walks the whole diary for none.
    waiting = [pk for pk in unsettled.values_list("sitting", flat=True) if pk]
    if not waiting:
        return
    for sitting in (
        unit.sittings.filter(pk__in=waiting).select_related("job__family").soonest_first()
    ):
        yield TodayItem(
            group="sittings",
            title=f"Choose: a tablet says otherwise, {sitting.job.family.name}",
            url=reverse("bookings:sitting", args=[sitting.pk]),
            who="What it said is kept, and waits for your choice.",
            reference=sitting.job.reference,
            due_on=times.local_day(now, unit.time_zone),
        )


@today_source(14)
def sittings_to_book_again(unit: Unit, role: Role, now: datetime) -> Iterator[TodayItem]:
    """Booked jobs without a planned sitting. Three queries."""
    today = times.local_day(now, unit.time_zone)
    for job in jobs_without_sitting(unit).order_by("stage_since", "pk").with_people():
        yield TodayItem(
            group="families",
            title=f"Book again: {job.family.name}",
            url=reverse("bookings:book_again", args=[job.reference]),
            who=job.first_names,
            reference=job.reference,
            due_on=today,
        )


def _sitters(clay_prints: Iterable[ClayPrint], today: date) -> str:
    """Format the children, the eldest first, with their ages and limbs still part of the job."""
    limbs: dict[Child, list[str]] = {}
    for piece in (each.piece for each in clay_prints):
        if piece.left_off_at is None:
            limbs.setdefault(piece.child, []).append(piece.get_limb_display())
    return "; ".join(
        f"{child.first_name} ({units.age(child.born_on, today)}): {', '.join(named)}"
        for child, named in sorted(limbs.items(), key=lambda of: (of[0].born_on, of[0].pk))
    )
