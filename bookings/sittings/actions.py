"""What people do at a sitting: log its prints, finish and reopen it, mark a print as spoiled."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Literal, get_args
from uuid import UUID, uuid5

from bookings.consent.permissions import may_make_casts
from bookings.event_words import Arrived, LoggedPrint
from bookings.signals import print_lost, sitting_finished, sitting_reopened
from bookings.sittings.models import ClayPrint, Sitting
from studio.accounts.models import User
from studio.jobs.actions import leave_off_piece, split_off_pieces, take_piece_back
from studio.jobs.job_action import JobAction, itself, job_action, nothing, refuse_closed
from studio.jobs.models import Job, JobEvent, Piece
from studio.stages import ActionRefused, Stage, move
from studio.versions import EditedMeanwhile

PutOff = Literal["split", "leave"]

Outcome = ClayPrint.Outcome


@job_action(itself)
def arrive(
    act: JobAction,
    sitting: Sitting,
    *,
    who: str,
    asked: Iterable[str],
    by: User,
    at: datetime,
    key: UUID,
) -> Sitting:
    """Record who of the family is present and which cautions were discussed; can be repeated.

    Raises ActionRefused without a name, or once the sitting is over.
    """
    job = act.job
    sitting.refresh_from_db()
    _refuse_over(sitting, job)
    if not who.strip():
        raise ActionRefused("Write who is here.")
    act.record(facts=Arrived(who.strip(), list(asked)))
    return sitting


@job_action(itself)
def log_print(  # noqa: PLR0913 - all facts of a print
    act: JobAction,
    clay_print: ClayPrint,
    *,
    outcome: str,
    note: str = "",
    tray: str = "",
    marks: Mapping[str, bool | None] | None = None,
    length_mm: int | None = None,
    tries: int | None = None,
    seen_version: int | None = None,
    by: User,
    at: datetime,
    key: UUID,
) -> ClayPrint:
    """Record the outcome of one print: taken, to be taken again, not today, or still to take.

    It can be changed until the sitting is finished. Each `repeat` counts a try, unless `tries`
    gives their number. Without `marks` (see MARKS) these and the length are left unchanged.
    Raises ActionRefused once the sitting is over, or for a piece that has left the job;
    EditedMeanwhile if a `seen_version` is given and is not the latest.
    """
    job = act.job
    clay_print.refresh_from_db()
    _refuse_over(clay_print.sitting, job)
    _check_print(clay_print, outcome, seen_version)
    clay_print.outcome = outcome
    clay_print.note, clay_print.tray = note.strip(), tray.strip()
    clay_print.taken_at = at if outcome == Outcome.TAKEN else None
    clay_print.tries = clay_print.tries + (outcome == Outcome.REPEAT) if tries is None else tries
    if marks is not None:
        clay_print.flat, clay_print.toes = marks.get("flat"), marks.get("toes")
        clay_print.depth_even, clay_print.length_mm = marks.get("depth"), length_mm
    clay_print.said_by, clay_print.said_at = by, at
    clay_print.version += 1
    clay_print.save()
    act.record(subject=clay_print.piece, facts=LoggedPrint.of(clay_print), why=clay_print.note)
    return clay_print


@job_action(itself)
def finish_sitting(
    act: JobAction, sitting: Sitting, *, put_off: PutOff, by: User, at: datetime, key: UUID
) -> Sitting:
    """Finish a sitting: the job moves to `clay_rest`.

    Pieces that were not taken today get a job of their own, to be booked again (`split`), or are
    left off (`leave`). Raises ActionRefused while a limb is still open, if nothing was taken, or
    before the family's consent to the casts is recorded; MoveRefused or MovedMeanwhile if the job
    cannot go on.
    """
    job = act.job
    sitting.refresh_from_db()
    _refuse_over(sitting, job)
    if put_off not in get_args(PutOff):
        raise ActionRefused("Say what becomes of the pieces that were not taken today.")
    clay_prints = list(sitting.prints.on_the_job().with_child())
    _refuse_open(clay_prints)
    _refuse_without_consent(job)
    sitting.state = Sitting.State.DONE
    sitting.version += 1
    sitting.save(update_fields=["state", "version"])
    sitting.prints.exclude(outcome=Outcome.TAKEN).update(live=False)
    not_today = [each.piece for each in clay_prints if each.outcome == Outcome.NOT_TODAY]
    _put_off(job, not_today, put_off, by=by, at=at, key=key)
    act.record()
    move(job, seen=Stage.BOOKED, to=Stage.CLAY_REST, by=by, at=at, key=uuid5(key, "move"))
    sitting_finished.send(Sitting, sitting=sitting, by=by, at=at, key=key)
    sitting.job.refresh_from_db()
    return sitting


@job_action(itself)
def reopen_sitting(
    act: JobAction, sitting: Sitting, *, by: User, at: datetime, key: UUID
) -> Sitting:
    """Reopen a finished sitting before its prints are poured: the job moves back to `booked`.

    Pieces that were put off at its end return to the job; the job split off for them is called
    off. Raises ActionRefused if the sitting is not finished, or if its job or the job that was
    split off has changed since; MoveRefused on an ended job.
    """
    job = act.job
    sitting.refresh_from_db()
    refuse_closed(job)
    if sitting.state != Sitting.State.DONE:
        raise ActionRefused(f"This sitting is {sitting.get_state_display()}: it is not finished.")
    ended = job.events.filter(what="finish_sitting").newest_first()[0]
    split = _split_off_at(ended)
    _refuse_gone_on(sitting, job, split)
    at = act.at = max(at, job.stage_since)  # a tablet's clock never opens it again before its end
    sitting.state = Sitting.State.PLANNED
    sitting.version += 1
    sitting.save(update_fields=["state", "version"])
    act.record()
    move(job, seen=Stage.CLAY_REST, to=Stage.BOOKED, by=by, at=at, key=uuid5(key, "move"))
    _bring_back(sitting, ended, split, by=by, at=at, key=key)
    sitting_reopened.send(Sitting, sitting=sitting, by=by, at=at, key=key)
    sitting.job.refresh_from_db()
    return sitting


@job_action(nothing)
def lose_print(
    act: JobAction, piece: Piece, *, why: str, by: User, at: datetime, key: UUID
) -> None:
    """Record that a piece's print is spoiled: the piece needs a new sitting.

    Raises ActionRefused if the piece has no print in the clay.
    """
    job = act.job
    refuse_closed(job)
    clay_prints = list(piece.prints.taken())
    if not clay_prints:
        raise ActionRefused(f"{piece} has no print in the clay.")
    piece.prints.taken().update(live=False)
    act.record(subject=piece, why=why.strip())
    for clay_print in clay_prints:
        print_lost.send(ClayPrint, clay_print=clay_print, by=by, at=at, key=key)


def _check_print(clay_print: ClayPrint, outcome: str, seen_version: int | None) -> None:
    if outcome not in Outcome.values:
        raise ActionRefused("Say whether it was taken, is to be taken again, or not today.")
    if clay_print.piece.left_off_at:
        raise ActionRefused(f"{clay_print.piece} was left off the job: there is nothing to take.")
    if seen_version not in (None, clay_print.version):
        raise EditedMeanwhile(
            clay_print, "Somebody else said something about this one after you opened it."
        )


def _refuse_over(sitting: Sitting, job: Job) -> None:
    refuse_closed(job)
    if sitting.state != Sitting.State.PLANNED:
        raise ActionRefused(
            f"This sitting is {sitting.get_state_display()}: what was logged stands."
        )


def _refuse_gone_on(sitting: Sitting, job: Job, split: Job | None) -> None:
    """Raise ActionRefused unless finishing the sitting was the last change of the job."""
    if job.stage != Stage.CLAY_REST or job.events.filter(what="pour").exists():
        raise ActionRefused(
            "The clay is poured already: the sitting can no longer be opened again."
        )
    if split and split.events.filter(at__gt=split.opened_at).exists():
        raise ActionRefused(
            "What was put off at the end of this sitting went on since, as "
            f"{split.display_reference}: it can no longer be opened again."
        )
    if sitting.prints.on_the_job().filter(live=False).exists():
        raise ActionRefused("A print of this sitting was lost since: book that one again instead.")


def _refuse_open(clay_prints: list[ClayPrint]) -> None:
    """Raise ActionRefused while a print has no outcome, or if none was taken."""
    waiting = [each for each in clay_prints if not each.settled]
    if waiting:
        raise ActionRefused(
            *(f"{each.piece}: still to be taken, or say “not today”." for each in waiting)
        )
    if not any(each.outcome == Outcome.TAKEN for each in clay_prints):
        raise ActionRefused(
            "Nothing was taken: cancel the sitting and say why, then book the job again."
        )


def _refuse_without_consent(job: Job) -> None:
    """Raise ActionRefused without the family's consent to the casts.

    Prints are logged without it, but a sitting ends only while somebody is present to give it.
    """
    if not may_make_casts(job.family):
        raise ActionRefused(
            "Nobody’s yes to the prints and casts stands: ask, and write down who says so, then "
            "finish. What was logged stays."
        )


def _put_off(
    job: Job, pieces: list[Piece], how: PutOff, *, by: User, at: datetime, key: UUID
) -> None:
    if not pieces:
        return
    if how == "split":
        split_off_pieces(job, pieces, promised_on=None, by=by, at=at, key=uuid5(key, "split"))
        return
    for piece in pieces:
        why = "Not taken at the sitting, and not wanted later."
        leave_off_piece(piece, why=why, by=by, at=at, key=uuid5(key, f"leave off {piece.pk}"))


def _split_off_at(ended: JobEvent) -> Job | None:
    """Return the job that finishing a sitting opened for the pieces that were put off."""
    opened = uuid5(uuid5(ended.key, "split"), "open")
    return Job.objects.filter(events__key=opened, split_from=ended.job_id).first()


def _bring_back(
    sitting: Sitting, ended: JobEvent, split: Job | None, *, by: User, at: datetime, key: UUID
) -> None:
    """Undo `_put_off`: return only the pieces that it left off, not those left off earlier."""
    if split:
        why = "The sitting was opened again: its pieces went back there."
        called_off = uuid5(key, "split")
        move(split, seen=Stage.BOOKED, to=Stage.CALLED_OFF, by=by, at=at, key=called_off, why=why)
    put_off = uuid5(ended.key, "split") if split else ended.key
    left_off = set(ended.job.events.filter(what="leave_off_piece").values_list("key", flat=True))
    for clay_print in sitting.prints.filter(live=False).select_related("piece__job"):
        piece = clay_print.piece
        if uuid5(put_off, f"leave off {piece.pk}") in left_off:
            clay_print.live = True
            clay_print.save(update_fields=["live"])
            take_piece_back(piece, by=by, at=at, key=uuid5(key, f"take back {piece.pk}"))
