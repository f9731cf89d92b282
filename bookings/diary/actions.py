"""Actions of the diary: book, book again, move and cancel a sitting."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID, uuid5

from bookings import times
from bookings.diary import booking_checks
from bookings.event_words import SittingSet
from bookings.sittings.models import ClayPrint, Sitting
from studio.accounts.models import Unit, User
from studio.families.models import Child, Family
from studio.jobs.actions import open_job
from studio.jobs.job_action import JobAction, itself, job_action, record, refuse_closed, unit_action
from studio.jobs.models import Job, Piece
from studio.limbs import Limb
from studio.stages import ActionRefused, MoveRefused, Stage
from studio.versions import save_edited


@unit_action("sittings")
def book_sitting(  # noqa: PLR0913 - the facts of a sitting, named one by one
    family: Family,
    *,
    wanted: Iterable[tuple[Child, Limb]],
    starts_at: datetime,
    minutes: int,
    place: str = Sitting.Place.HOME,
    place_words: str = "",
    young_why: str = "",
    promised_on: date | None = None,
    by: User,
    at: datetime,
    key: UUID,
) -> Sitting:
    """Open a job for these limbs with its first sitting.

    It is promised for `promised_on`; default: `promise_days` of the unit after the sitting.
    Raises ActionRefused with all problems of `booking_checks`.
    """
    unit = family.unit
    pairs = list(dict.fromkeys(wanted))
    found = booking_checks.problems(
        unit, (child for child, _ in pairs), starts_at, minutes, young_why=young_why, at=at
    )
    _refuse_if(found + booking_checks.duplicate_problems(pairs))
    job = open_job(
        family,
        wanted=pairs,
        promised_on=promised_on or _usual_promise(unit, starts_at),
        by=by,
        at=at,
        key=uuid5(key, "open"),
    )
    facts = _facts(starts_at, minutes, place, place_words, young_why)
    sitting = _create_sitting(job, job.pieces.on_the_job(), facts, key=key)
    record(job, what="book_sitting", facts=_event_facts(sitting), by=by, at=at, key=key)
    return sitting


@job_action(lambda job, earlier: job.sittings.get(key=earlier.key), holds_unit=True)
def book_again(
    act: JobAction,
    job: Job,
    *,
    starts_at: datetime,
    minutes: int,
    place: str = Sitting.Place.HOME,
    place_words: str = "",
    young_why: str = "",
    by: User,
    at: datetime,
    key: UUID,
) -> Sitting:
    """Book another sitting for the job's pieces without a whole print, and move the promise.

    Raises MoveRefused unless the job is at `booked`, ActionRefused with all problems of
    `booking_checks`.
    """
    locked, unit = act.job, act.job.unit
    pieces = _pieces_without_print(locked)
    children = [piece.child for piece in pieces]
    _refuse_if(
        booking_checks.problems(unit, children, starts_at, minutes, young_why=young_why, at=at)
    )
    locked.promised_on = job.promised_on = _usual_promise(unit, starts_at)
    locked.save(update_fields=["promised_on"])
    facts = _facts(starts_at, minutes, place, place_words, young_why)
    sitting = _create_sitting(locked, pieces, facts, key=key)
    act.record(facts=_event_facts(sitting))
    return sitting


@job_action(itself, holds_unit=True)
def move_sitting(  # noqa: PLR0913 - the facts of a sitting, named one by one
    act: JobAction,
    sitting: Sitting,
    *,
    starts_at: datetime,
    minutes: int,
    place: str,
    place_words: str,
    young_why: str = "",
    why: str = "",
    seen_version: int,
    by: User,
    at: datetime,
    key: UUID,
) -> Sitting:
    """Move a planned sitting to another time or place, and the promise by as many days.

    Raises EditedMeanwhile if somebody changed it after `seen_version`, ActionRefused with all
    problems of `booking_checks`.
    """
    job, unit = act.job, act.job.unit
    sitting.refresh_from_db()
    _refuse_unplanned(sitting, job)
    before = times.local_day(sitting.starts_at, unit.time_zone)
    children = [clay_print.piece.child for clay_print in sitting.prints.with_child()]
    _refuse_if(
        booking_checks.problems(
            unit, children, starts_at, minutes, young_why=young_why, at=at, but=sitting
        )
    )
    facts = _facts(starts_at, minutes, place, place_words, young_why)
    save_edited(sitting, facts, seen_version=seen_version)
    if job.promised_on:
        job.promised_on += times.local_day(starts_at, unit.time_zone) - before
        job.save(update_fields=["promised_on"])
    act.record(facts=_event_facts(sitting), why=why.strip())
    return sitting


@job_action(itself)
def cancel_sitting(
    act: JobAction,
    sitting: Sitting,
    *,
    why: str,
    seen_version: int | None = None,
    by: User,
    at: datetime,
    key: UUID,
) -> Sitting:
    """Cancel a planned sitting; its job stays at `booked`, to be booked again.

    Raises ActionRefused without a reason, if it is over or if a print has been taken;
    EditedMeanwhile if a `seen_version` is given and is not the latest.
    """
    job = act.job
    sitting.refresh_from_db()
    _refuse_unplanned(sitting, job)
    if not why.strip():
        raise ActionRefused("Write why the sitting is cancelled.")
    if taken := sitting.prints.taken().count():
        noun = "1 print is" if taken == 1 else f"{taken} prints are"
        raise ActionRefused(f"{noun} in the clay already: finish the sitting instead.")
    save_edited(
        sitting,
        {"state": Sitting.State.CANCELLED, "cancelled_why": why.strip()},
        seen_version=sitting.version if seen_version is None else seen_version,
    )
    sitting.prints.update(live=False)
    act.record(why=why.strip())
    return sitting


def _refuse_if(problems: list[str]) -> None:
    if problems:
        raise ActionRefused(*problems)


def _usual_promise(unit: Unit, starts_at: datetime) -> date:
    return times.local_day(starts_at, unit.time_zone) + timedelta(days=unit.promise_days)


def _pieces_without_print(job: Job) -> list[Piece]:
    """List the pieces for another sitting. Raises MoveRefused or ActionRefused if it needs none."""
    refuse_closed(job)
    if job.stage != Stage.BOOKED:
        raise MoveRefused(
            f"Job {job} is at “{job.stage_words}”: a sitting is booked again only for a job at "
            f"“{Stage.BOOKED.label}”."
        )
    if planned := job.sittings.planned().first():
        when = times.format_time(planned.starts_at, job.unit.time_zone)
        raise ActionRefused(f"Job {job} has a sitting on {when} already: move that one.")
    pieces = list(job.pieces.on_the_job().exclude(prints__live=True).select_related("child"))
    if not pieces:
        raise ActionRefused(f"Every piece of job {job} has its print.")
    return pieces


def _refuse_unplanned(sitting: Sitting, job: Job) -> None:
    refuse_closed(job)
    if sitting.state != Sitting.State.PLANNED:
        raise ActionRefused(f"This sitting is {sitting.get_state_display()}: it no longer changes.")


def _facts(
    starts_at: datetime, minutes: int, place: str, place_words: str, young_why: str
) -> dict[str, Any]:
    return {
        "starts_at": starts_at,
        "ends_at": starts_at + timedelta(minutes=minutes),
        "place": place,
        "place_words": place_words.strip(),
        "young_why": young_why.strip(),
    }


def _create_sitting(
    job: Job, pieces: Iterable[Piece], facts: dict[str, Any], *, key: UUID
) -> Sitting:
    sitting = job.sittings.create(unit=job.unit, key=key, **facts)
    ClayPrint.objects.bulk_create(ClayPrint(sitting=sitting, piece=piece) for piece in pieces)
    return sitting


def _event_facts(sitting: Sitting) -> SittingSet:
    local = times.to_local(sitting.starts_at, sitting.unit.time_zone)
    return SittingSet(local.isoformat(), sitting.place, sitting.young_why)
