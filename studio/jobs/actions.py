"""Actions on a job at any stage: open it, leave pieces off or split them off, promise a day."""

import secrets
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from uuid import UUID, uuid5

from django.db import transaction
from django.utils import timezone

from studio import references
from studio.accounts.models import User
from studio.event_words import Promised
from studio.families.models import Child, Family
from studio.jobs.job_action import JobAction, job_action, refuse_closed, the_event
from studio.jobs.models import Job, JobEvent, Piece
from studio.limbs import Limb
from studio.signals import pieces_changed
from studio.stages import ActionRefused

_PROMISED_WITHIN = timedelta(days=730)


@transaction.atomic
def open_job(
    family: Family,
    *,
    wanted: Iterable[tuple[Child, Limb]],
    promised_on: date | None,
    by: User,
    at: datetime,
    key: UUID,
    split_from: Job | None = None,
) -> Job:
    """Open a job at `booked` for these limbs of the family's children.

    If one of the family's jobs was opened with the same `key`, return that job.
    Raises ActionRefused without a limb or with another family's child.
    """
    Family.objects.select_for_update().get(pk=family.pk)
    if earlier := family.jobs.filter(events__key=key, events__what="open_job").first():
        return earlier
    pieces = list(dict.fromkeys(wanted))
    if not pieces:
        raise ActionRefused("Choose at least one hand or foot.")
    if any(child.family_id != family.pk for child, _ in pieces):
        raise ActionRefused("One of these children belongs to another family.")
    job = Job.objects.create(
        unit=family.unit,
        family=family,
        reference=_unused_reference(),
        opened_at=at,
        stage_since=at,
        promised_on=promised_on,
        split_from=split_from,
    )
    Piece.objects.bulk_create(Piece(job=job, child=child, limb=limb) for child, limb in pieces)
    job.events.create(what="open_job", to_stage=job.stage, by=by, at=at, key=key)
    pieces_changed.send(Job, job=job, by=by, at=at)
    return job


def _unused_reference() -> str:
    while Job.objects.filter(
        reference=(drawn := references.new_reference(secrets.choice))
    ).exists():
        pass
    return drawn


@job_action(the_event)
def leave_off_piece(
    act: JobAction, piece: Piece, *, why: str, by: User, at: datetime, key: UUID
) -> JobEvent:
    """Remove a piece from its job, with a reason; the row and its history are kept.

    Raises MoveRefused on an ended job, ActionRefused without a reason or on the last piece.
    """
    job = act.job
    refuse_closed(job)
    if not why.strip():
        raise ActionRefused("Write why this piece is left off.")
    if not job.pieces.on_the_job().exclude(pk=piece.pk).exists():
        raise ActionRefused("This is the job's last piece: call the job off instead.")
    piece.left_off_at, piece.left_off_why = at, why.strip()
    piece.save(update_fields=["left_off_at", "left_off_why"])
    event = act.record(subject=piece, why=why.strip())
    pieces_changed.send(Job, job=job, by=by, at=at)
    return event


@job_action(the_event)
def take_piece_back(act: JobAction, piece: Piece, *, by: User, at: datetime, key: UUID) -> JobEvent:
    """Return a piece that was left off to its job. Raises MoveRefused on an ended job."""
    job = act.job
    refuse_closed(job)
    piece.left_off_at, piece.left_off_why = None, ""
    piece.save(update_fields=["left_off_at", "left_off_why"])
    event = act.record(subject=piece)
    pieces_changed.send(Job, job=job, by=by, at=at)
    return event


@transaction.atomic
def split_off_pieces(
    job: Job,
    pieces: Iterable[Piece],
    *,
    promised_on: date | None,
    by: User,
    at: datetime,
    key: UUID,
) -> Job:
    """Move pieces whose print was not taken to a new job, so that the others are not held up.

    The new job's `split_from` is this one. Raises what `leave_off_piece` and `open_job` raise.
    """
    put_off = list(pieces)
    for piece in put_off:
        leave_off_piece(
            piece,
            why="Waits for a sitting of its own.",
            by=by,
            at=at,
            key=uuid5(key, f"leave off {piece.pk}"),
        )
    return open_job(
        job.family,
        wanted=[(piece.child, Limb(piece.limb)) for piece in put_off],
        promised_on=promised_on,
        by=by,
        at=at,
        key=uuid5(key, "open"),
        split_from=job,
    )


@job_action(the_event)
def promise(
    act: JobAction, job: Job, *, promised_on: date, why: str, by: User, at: datetime, key: UUID
) -> JobEvent:
    """Change the day for which the job is promised to the family.

    Raises MoveRefused on an ended job, ActionRefused without a reason or for a day more than two
    years away (a mistyped year).
    """
    locked = act.job
    refuse_closed(locked)
    if not why.strip():
        raise ActionRefused("Write why the promise changes: the family will ask.")
    if abs(promised_on - timezone.localdate(at)) > _PROMISED_WITHIN:
        raise ActionRefused("That day lies more than two years away: check the year.")
    before = locked.promised_on.isoformat() if locked.promised_on else ""
    locked.promised_on = job.promised_on = promised_on
    locked.save(update_fields=["promised_on"])
    return act.record(facts=Promised(before, promised_on.isoformat()), why=why.strip())
