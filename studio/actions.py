"""What people do to families, jobs and the unit: one function and one transaction each."""

import functools
import secrets
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Concatenate, ParamSpec, Protocol, TypeVar
from uuid import UUID, uuid5

from django.db import models, transaction
from django.utils import timezone

from studio import event_words, references
from studio.event_words import Facts, Promised
from studio.models import (
    Child,
    Family,
    Job,
    JobEvent,
    Limb,
    Membership,
    Piece,
    Role,
    Unit,
    User,
    Versioned,
)
from studio.signals import pieces_changed
from studio.stages import CLOSED, MoveRefused, Refused, Stage, move

_PROMISED_WITHIN = timedelta(days=730)
action_names: set[str] = set()
"""The names of the actions on a job, which are the names of their events."""


class ActionRefused(Refused):
    """Not now, and not about a stage: a sentence says what to do instead."""


class EditedMeanwhile(Refused):
    """Somebody else saved the row after this person opened it; `current` is what stands now."""

    def __init__(self, current: Versioned, words: str) -> None:
        super().__init__(words)
        self.current = current


def lock_unit(unit: Unit) -> Unit:
    """The unit's row, held until the transaction ends: before any job, always, or two people who
    need both wait for each other. New rows of the unit are not held up.
    """
    return Unit.objects.select_for_update(no_key=True).get(pk=unit.pk)


def lock_job(job: Job) -> Job:
    """The job's row, re-read and held until the transaction ends; call inside one."""
    return Job.objects.select_for_update().get(pk=job.pk)


def refuse_closed(job: Job) -> None:
    """Raises MoveRefused if the job has ended."""
    if job.stage in CLOSED:
        raise MoveRefused(
            f"Job {job.spoken_reference} is {Stage(job.stage).label.lower()}: it no longer changes."
        )


def record(
    job: Job,
    *,
    what: str,
    subject: Piece | None = None,
    facts: Facts | None = None,
    why: str = "",
    by: User | None,
    at: datetime,
    key: UUID,
) -> JobEvent:
    """Add an event to one of several jobs that an action changes; call inside its transaction.

    `facts` are of the kind's class, `why` is what a person typed. An action on one job is a
    `job_action`, which records its own event.
    """
    return job.events.create(
        what=what,
        from_stage=job.stage,
        to_stage=job.stage,
        by=by,
        at=at,
        key=key,
        subject=subject,
        facts=event_words.to_store(what, facts),
        why=why,
    )


class OfAJob(Protocol):
    @property
    def job(self) -> Job: ...


class OfAUnit(Protocol):
    @property
    def unit(self) -> Unit: ...


_Row = TypeVar("_Row", bound=models.Model)
_Of = TypeVar("_Of", bound=Job | OfAJob)
_OfUnit = TypeVar("_OfUnit", bound=Unit | OfAUnit)
_P = ParamSpec("_P")
_R = TypeVar("_R")


@dataclass(slots=True)
class JobAction:
    """What the body of an action on a job gets: the job's locked row, and the way to its event."""

    what: str
    job: Job
    by: User | None
    at: datetime
    key: UUID
    _given: Job  # the caller's instance, which a move keeps up to date
    done: bool = False

    def record(
        self, *, subject: Piece | None = None, facts: Facts | None = None, why: str = ""
    ) -> JobEvent:
        """Add the action's event to the job's history, see `record`."""
        self.done = True
        return record(
            self.job,
            what=self.what,
            subject=subject,
            facts=facts,
            why=why,
            by=self.by,
            at=self.at,
            key=self.key,
        )

    def move(self, *, seen: Stage, to: Stage, reason: str = "", why: str = "") -> JobEvent:
        """Move the job; the move is the action's event. Raises MovedMeanwhile, MoveRefused."""
        self.done = True
        return move(
            self._given,
            seen=seen,
            to=to,
            reason=reason,
            why=why,
            by=self.by,
            at=self.at,
            key=self.key,
        )

    def nothing_changed(self) -> None:
        """Leave no event, because the job is already as the person wants it."""
        self.done = True


def the_event(of: object, earlier: JobEvent) -> JobEvent:
    return earlier


def itself(of: _Row, earlier: JobEvent) -> _Row:
    """The row that the action is about, re-read."""
    of.refresh_from_db()
    return of


def nothing(of: object, earlier: JobEvent) -> None:
    return None


def job_action(
    repeat: Callable[[Any, JobEvent], Any], *, what: str = "", holds_unit: bool = False
) -> Callable[[Callable[Concatenate[JobAction, _Of, _P], _R]], Callable[Concatenate[_Of, _P], _R]]:
    """Make a function an action on a job: one transaction, the job locked, one event.

    The function is called with `by`, `at` and `key` as keywords. It gets a `JobAction` before its
    own arguments, and must record, move or say that nothing changed: else RuntimeError. A `key`
    that the job's history has already changes nothing: the answer is `repeat(of, earlier event)`.
    The event is named `what`, else like the function. `holds_unit` locks the unit as well, first.
    """

    def decorate(
        body: Callable[Concatenate[JobAction, _Of, _P], _R],
    ) -> Callable[Concatenate[_Of, _P], _R]:
        name = what or body.__name__
        action_names.add(name)

        @functools.wraps(body)
        @transaction.atomic
        def run(of: _Of, /, *args: _P.args, **kwargs: _P.kwargs) -> _R:
            given = of if isinstance(of, Job) else of.job
            if holds_unit:
                lock_unit(given.unit)
            facts: dict[str, Any] = kwargs
            by, at, key = facts.get("by"), facts["at"], facts["key"]
            act = JobAction(name, lock_job(given), by, at, key, given)
            if earlier := act.job.events.filter(key=key).first():
                given.refresh_from_db(fields=["stage", "stage_since"])
                answer: _R = repeat(of, earlier)
                return answer
            answer = body(act, of, *args, **kwargs)
            if not act.done:
                raise RuntimeError(f"{name} neither records nor moves.")
            return answer

        return run

    return decorate


def unit_action(
    rows: str, answer: Callable[[Any], Any] = lambda row: row
) -> Callable[[Callable[Concatenate[_OfUnit, _P], _R]], Callable[Concatenate[_OfUnit, _P], _R]]:
    """Make a function an action that adds a row to a unit: one transaction, the unit locked.

    The function is called with `key` as a keyword. Where one of the unit's `rows` (the name of
    the relation) has that key already, nothing changes: the answer is `answer(row)`.
    """

    def decorate(
        body: Callable[Concatenate[_OfUnit, _P], _R],
    ) -> Callable[Concatenate[_OfUnit, _P], _R]:
        @functools.wraps(body)
        @transaction.atomic
        def run(of: _OfUnit, /, *args: _P.args, **kwargs: _P.kwargs) -> _R:
            unit = lock_unit(of if isinstance(of, Unit) else of.unit)
            if earlier := getattr(unit, rows).filter(key=kwargs["key"]).first():
                found: _R = answer(earlier)
                return found
            return body(of, *args, **kwargs)

        return run

    return decorate


def save_edited(row: Versioned, changes: Mapping[str, Any], *, seen_version: int) -> None:
    """Write `changes` to a row that carries a `version`, if it is still the one the person saw.

    Raises EditedMeanwhile otherwise; nothing is written then.
    """
    with transaction.atomic():
        current = type(row)._default_manager.select_for_update().get(pk=row.pk)
        if current.version != seen_version:
            raise EditedMeanwhile(
                current, "Somebody else saved this after you opened it. Nothing of yours is lost."
            )
        for name, value in changes.items():
            setattr(current, name, value)
        current.version += 1
        current.save(update_fields=[*changes, "version"])
    for name in (*changes, "version"):
        setattr(row, name, getattr(current, name))


@transaction.atomic
def set_up_unit(
    *, email: str, password: str, owner_name: str, unit_facts: Mapping[str, Any]
) -> Membership:
    """Make the first owner and unit. Raises ActionRefused once a unit exists."""
    if Unit.objects.exists():
        raise ActionRefused("This Caststead is already set up: log in instead.")
    owner = User.objects.create_user(email, password, name=owner_name)
    unit = Unit.objects.create(**unit_facts)
    return Membership.objects.create(user=owner, unit=unit, role=Role.OWNER)


@transaction.atomic
def add_person(unit: Unit, *, email: str, name: str, password: str, role: Role) -> Membership:
    """Give a person a log-in to the unit. Raises ActionRefused if the address is taken."""
    if User.objects.filter(email=email.lower()).exists():
        raise ActionRefused(f"Somebody already logs in as {email}.")
    user = User.objects.create_user(email, password, name=name)
    return Membership.objects.create(user=user, unit=unit, role=role)


@transaction.atomic
def add_family(
    unit: Unit, *, facts: Mapping[str, Any], children: Iterable[Mapping[str, Any]] = ()
) -> Family:
    family = unit.families.create(**facts)
    for child in children:
        family.children.create(**child)
    return family


def edit_family(family: Family, *, facts: Mapping[str, Any], seen_version: int) -> None:
    """Raises EditedMeanwhile."""
    save_edited(family, facts, seen_version=seen_version)


def add_child(family: Family, *, facts: Mapping[str, Any]) -> Child:
    return family.children.create(**facts)


def edit_child(child: Child, *, facts: Mapping[str, Any], seen_version: int) -> None:
    """Raises EditedMeanwhile."""
    save_edited(child, facts, seen_version=seen_version)


def edit_unit(unit: Unit, *, facts: Mapping[str, Any], seen_version: int) -> None:
    """Raises EditedMeanwhile."""
    save_edited(unit, facts, seen_version=seen_version)


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

    The same `key` twice is one job: the key is looked for in the family's earlier jobs.
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
    """Take a piece off its job, with the reason; the row and its history stay.

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
    """Put a piece that was left off back on its job. Raises MoveRefused on an ended job."""
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
    """Give pieces that could not be taken a job of their own, so that the others go on.

    The new job names the one it came from. Raises what `leave_off_piece` and `open_job` raise.
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
    """Change the day on which the family was promised its piece.

    Raises MoveRefused on an ended job, ActionRefused without a reason or for a year mistyped.
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
