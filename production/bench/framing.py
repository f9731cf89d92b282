"""Actions of framing: start, tick steps, finish, reopen, and packaging at hand-over."""

from datetime import datetime
from uuid import UUID

from production.casts.models import Cast
from production.event_words import Ticked
from production.frames.models import Frame
from production.stock import usage
from studio.accounts.models import User
from studio.jobs.job_action import JobAction, job_action, the_event
from studio.jobs.models import Job, JobEvent
from studio.stages import ActionRefused, MoveRefused, Stage, move

FRAME_STEPS = Frame.STEPS


@job_action(lambda job, earlier: Frame.objects.get(job=job))
def start_framing(
    act: JobAction, job: Job, *, seen: Stage, glazed: bool = True, by: User, at: datetime, key: UUID
) -> Frame:
    """Move a dry job to framing, free its drying rack places and start its frame with no step done.

    Raises MovedMeanwhile, or MoveRefused while a cast is damp.
    """
    locked = act.job
    act.move(seen=seen, to=Stage.FRAMING)
    Cast.objects.filter(piece__job=job).update(rack_place=None)
    nothing_yet = {f"{step}_at": None for step in FRAME_STEPS}
    frame, _ = Frame.objects.update_or_create(
        job=job, defaults={"glazed": glazed, "started_at": at, **nothing_yet}
    )
    usage.use_for_frame(locked, glazed=glazed, by=by, at=at, key=key)
    return frame


@job_action(lambda job, earlier: Frame.objects.get(job=job))
def tick_frame(
    act: JobAction, job: Job, *, step: str, done: bool = True, by: User, at: datetime, key: UUID
) -> Frame:
    """Mark a framing step as done at `at`, or as not done.

    Raises MoveRefused unless the job is being framed, ActionRefused for an unknown step.
    """
    locked = act.job
    _refuse_unless_framing(locked)
    frame = locked.frame
    if step not in FRAME_STEPS:
        raise ActionRefused("There is no such step in the framing.")
    if bool(getattr(frame, f"{step}_at")) != done:
        setattr(frame, f"{step}_at", at if done else None)
        frame.save(update_fields=[f"{step}_at"])
        act.record(facts=Ticked(step, done))
    else:
        act.nothing_changed()
    return frame


def make_ready(job: Job, *, seen: Stage, by: User, at: datetime, key: UUID) -> JobEvent:
    """Move a job with a finished, checked and photographed frame to ready.

    Raises MovedMeanwhile, or MoveRefused with what is still missing.
    """
    return move(job, seen=seen, to=Stage.READY, by=by, at=at, key=key)


def use_packaging(job: Job, *, by: User, at: datetime, key: UUID) -> None:
    """Withdraw the packaging of a job from stock; call it inside the action that hands the job over."""
    usage.use_for_packing(job, by=by, at=at, key=key)


@job_action(the_event)
def reopen_frame(
    act: JobAction, job: Job, *, seen: Stage, why: str, by: User, at: datetime, key: UUID
) -> JobEvent:
    """Move a ready job back to framing; its frame must be checked again.

    Raises MovedMeanwhile, MoveRefused, or ActionRefused without a reason.
    """
    if not why.strip():
        raise ActionRefused("Write what is wrong with the frame.")
    event = act.move(seen=seen, to=Stage.FRAMING, why=why.strip())
    Frame.objects.filter(job=job).update(checked_at=None)
    return event


def _refuse_unless_framing(job: Job) -> None:
    if job.stage != Stage.FRAMING:
        raise MoveRefused(
            f"Job {job.display_reference} is at “{job.stage_words}”, not being framed."
        )
