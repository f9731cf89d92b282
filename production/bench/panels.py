"""What the bench shows on Today and on a job's page."""

from collections.abc import Iterable
from datetime import date, datetime

from django.urls import reverse
from django.utils import timezone

from production.bench import jobs, piece_now
from production.frames.panel import frame_shown
from production.schedule import week
from studio.accounts.models import Unit
from studio.jobs.models import Job, Piece
from studio.roles import Role
from studio.stages import Stage
from studio.units import day
from studio.web.panels import NextStep, Panel, TodayItem, job_panel, piece_step, today_source


@today_source(20)
def at_the_bench(unit: Unit, role: Role, now: datetime) -> Iterable[TodayItem]:
    """Return today's work at the bench for Today, one item for each job and kind of work. Ten queries."""
    due = jobs.to_begin_today(jobs.due_jobs(unit, now), timezone.localdate(now))
    # Handing over is of the family's and the till's side: orders tells it.
    return [_item(line, due.on) for line in due.lines if line.first.kind != "hand_over"]


def _item(line: week.Line, today: date) -> TodayItem:
    first = line.first
    by = None if first.is_late else first.by
    return TodayItem(
        group="bench",
        title=f"{line.words} {line.who}" + (f": {line.limbs}" if line.limbs else ""),
        url=_where(first),
        detail=f"by {day(by.date())}, {by:%H:%M}" if by else "",
        reference=first.job.reference,
        at=by if by and by.date() == today else None,
        due_on=first.due_on if first.is_late else None,
        why_late=f"Late: {first.late_why}" if first.is_late else "",
    )


def _where(task: week.Task) -> str:
    if task.kind == "pour":
        return reverse("production:pour")
    anchor = {"demould": "mould", "weigh": "rack", "frame": "frames"}[task.kind]
    return f"{reverse('production:bench')}#{anchor}"


@piece_step(20)
def bench_of_piece(piece: Piece, role: Role, now: datetime) -> NextStep | None:
    """Return the next step of a piece at the bench, None before the clay and after the frame."""
    job = piece.job
    if job.stage == Stage.FRAMING:
        frames = f"{reverse('production:bench')}#frames"
        return NextStep("It is being framed.", frames, "Open the frames")
    if job.stage not in (Stage.CLAY_REST, Stage.CASTING, Stage.DRYING):
        return None
    pieces = jobs.job_on(job, timezone.localdate(now)).pieces
    return _at_the_bench(next(each for each in pieces if each.piece == piece))


def _at_the_bench(found: piece_now.PieceNow) -> NextStep | None:
    bench = reverse("production:bench")
    if found.state == "damp" and found.cast:
        weigh = reverse("production:weigh", args=[found.cast.pk])
        return NextStep(f"Drying: {found.days_words}.", weigh, "Weigh it")
    return {
        "clay": NextStep(
            f"In the clay: pour by {found.pour_by_words}.", reverse("production:pour"), "Pour it"
        ),
        "mould": NextStep(
            f"In the mould: out from {found.out_from_words}.", f"{bench}#mould", "Open the moulds"
        ),
        "dry": NextStep("Dry: it waits for its frame.", f"{bench}#rack", "Open the rack"),
    }.get(found.state)


@job_panel(30)
def bench_of_job(job: Job, role: Role, now: datetime) -> Panel | None:
    """Return the panel with each piece's state and next button; None before the first print."""
    shown = jobs.job_on(job, timezone.localdate(now))
    pieces = shown.pieces
    if all(each.state in ("waits", "sitting") and not each.spoiled for each in pieces):
        return None
    return Panel(
        title="Bench",
        template="production/bench/_job_panel.html",
        anchor="bench",
        context={
            "job": job,
            "pieces": pieces,
            "framed": piece_now.frame_now(job) if shown.frame else None,
            "to_frame": job if shown.can_be_framed else None,
            "now": now,
        },
    )


@job_panel(35)
def frame_of_job(job: Job, role: Role, now: datetime) -> Panel | None:
    """Return the panel with the frame drawn to scale; None for a job that was called off."""
    if job.stage == Stage.CALLED_OFF:
        return None
    return Panel(
        title="Frame",
        template="production/frames/_frame_panel.html",
        anchor="frame",
        context={
            "frame": frame_shown(job, timezone.localdate(now)),
            "may_change": not job.is_closed,
            "role": role,
        },
    )
