"""What the owner says about the working week, and about the plan."""

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
    """Keep a step of the job on that day: no plan moves it until it is taken out. The same key twice is one.

    Raises MoveRefused for a job that has ended, ActionRefused for a day gone by or beyond all planning, or
    a step that is none.
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
    """Let the plan move the step again. The same key twice is once; nothing where it is not kept."""
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
    """It goes home by courier, on the courier's days; or it does not. The same key twice is once."""
    held = act.job
    refuse_closed(held)
    if courier:
        ByCourier.objects.get_or_create(job=held, defaults={"at": at})
    else:
        ByCourier.objects.filter(job=held).delete()
    act.record(facts=WayHome(courier))


def _take_out(job: Job, kind: str, piece: Piece | None, at: datetime) -> None:
    job.plan_pins.filter(kind=kind, piece=piece, taken_out_at=None).update(taken_out_at=at)
