"""Actions on the plan: pin and unpin a step, send by courier."""

from datetime import date, datetime
from uuid import UUID

from django.utils import timezone

from production.event_words import Pinned, WayHome
from production.planning.solver.day_grid import NEVER
from production.schedule.models import ByCourier, PlanPin
from studio.accounts.models import User
from studio.jobs.job_action import JobAction, job_action, nothing, refuse_closed
from studio.jobs.models import Job, Piece
from studio.stages import ActionRefused


@job_action(nothing)
def pin_step(
    act: JobAction,
    job: Job,
    *,
    kind: str,
    piece: Piece | None,
    on: date,
    by: User,
    at: datetime,
    key: UUID,
) -> PlanPin | None:
    """Pin a step of the job, of one piece or of all, to a day; later plans keep it there until it is unpinned.

    Raises MoveRefused for a job that has ended; ActionRefused for a past day, one more than two years ahead,
    or an unknown step.
    """
    held = act.job
    refuse_closed(held)
    if kind not in PlanPin.Kind.values or (piece and piece.job_id != job.pk):
        raise ActionRefused("This step is not part of the job’s plan. Reload the plan.")
    if on < timezone.localdate(at):
        raise ActionRefused("That day is over: choose today or a day to come.")
    if (on - timezone.localdate(at)).days > NEVER:
        raise ActionRefused("That day lies more than two years ahead: check the year.")
    _take_out(held, kind, piece, at)
    pin = PlanPin.objects.create(job=held, kind=kind, piece=piece, on=on, by=by, at=at)
    act.record(subject=pin.piece, facts=Pinned(pin.kind, pin.on.isoformat()))
    return pin


@job_action(nothing)
def unpin_step(
    act: JobAction, job: Job, *, kind: str, piece: Piece | None, by: User, at: datetime, key: UUID
) -> None:
    """Let the plan move a pinned step again; nothing changes if it is not pinned."""
    held = act.job
    pin = held.plan_pins.filter(kind=kind, piece=piece, taken_out_at=None).first()
    if pin is None and piece:  # it was kept for all pieces of the job
        piece = None
        pin = held.plan_pins.filter(kind=kind, piece=None, taken_out_at=None).first()
    if pin:
        _take_out(held, kind, piece, at)
        act.record(subject=pin.piece, facts=Pinned(pin.kind, pin.on.isoformat()))
    else:
        act.nothing_changed()


@job_action(nothing)
def send_by_courier(
    act: JobAction, job: Job, *, courier: bool, by: User, at: datetime, key: UUID
) -> None:
    """Set whether the job goes home by courier, and so on a courier day. Raises MoveRefused for an ended job."""
    held = act.job
    refuse_closed(held)
    if courier:
        ByCourier.objects.get_or_create(job=held, defaults={"at": at})
    else:
        ByCourier.objects.filter(job=held).delete()
    act.record(facts=WayHome(courier))


def _take_out(job: Job, kind: str, piece: Piece | None, at: datetime) -> None:
    job.plan_pins.filter(kind=kind, piece=piece, taken_out_at=None).update(taken_out_at=at)
