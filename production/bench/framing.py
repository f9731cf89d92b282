"""Into the frame, and the frame to ready or back."""

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
    """Take a job's dry casts off the rack and begin its frame, with nothing ticked yet.

    Raises MovedMeanwhile, or MoveRefused while a piece is damp.
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
    """Note a step of the framing as done at `at`, or take the note back.

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
    """Say that a frame is finished, checked and photographed.

    Raises MovedMeanwhile, or MoveRefused with what is still missing.
    """
    return move(job, seen=seen, to=Stage.READY, by=by, at=at, key=key)


def use_packaging(job: Job, *, by: User, at: datetime, key: UUID) -> None:
    """A finished piece goes home in its packaging; runs inside the action that hands it over."""
    usage.use_for_packing(job, by=by, at=at, key=key)


@job_action(the_event)
def reopen_frame(
    act: JobAction, job: Job, *, seen: Stage, why: str, by: User, at: datetime, key: UUID
) -> JobEvent:
    """Take a finished frame back to the bench; it is to be checked again.

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
            f"Job {job.spoken_reference} is at “{job.stage_words}”, not being framed."
        )
