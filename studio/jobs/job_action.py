"""The decorators that make a function an action: one transaction, the lock, the repeated key, the event."""

import functools
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Concatenate, ParamSpec, Protocol, TypeVar
from uuid import UUID

from django.db import models, transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from studio import event_words
from studio.accounts.actions import lock_unit
from studio.accounts.models import Unit, User
from studio.event_words import Facts
from studio.jobs.models import Job, JobEvent, Piece
from studio.stages import CLOSED, MoveRefused, Stage, move

action_names: set[str] = set()


def lock_job(job: Job) -> Job:
    """Re-read a job and lock its row until the end of the transaction; call inside one."""
    return Job.objects.select_for_update().get(pk=job.pk)


# A family reads them as well, on a page that it opened before.
_CLOSED_REFUSALS = {
    Stage.HANDED_OVER: gettext_noop("Job %(reference)s is handed over: it no longer changes."),
    Stage.CALLED_OFF: gettext_noop("Job %(reference)s is called off: it no longer changes."),
}


def refuse_closed(job: Job) -> None:
    """Raise MoveRefused if the job has ended."""
    if job.stage in CLOSED:
        refusal = _(_CLOSED_REFUSALS[Stage(job.stage)])
        raise MoveRefused(refusal % {"reference": job.display_reference})


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
    """Add an event to a job's history; call inside the transaction of the change.

    `facts` are an instance of the class registered for `what`, `why` is what a person typed. For
    actions that change several jobs: an action on one job uses `JobAction.record`.
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
    """First argument of the body of a `job_action`: the locked job, and methods that add its event."""

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
        """Add the action's event to the job's history; arguments as for the function `record`."""
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
        """End the action without an event, because the job is already as wanted."""
        self.done = True


def the_event(of: object, earlier: JobEvent) -> JobEvent:
    """Return the earlier event: what `@job_action(the_event)` answers to a repeated key."""
    return earlier


def itself(of: _Row, earlier: JobEvent) -> _Row:
    """Return the action's first argument, re-read: what `@job_action(itself)` answers to a repeated key."""
    of.refresh_from_db()
    return of


def nothing(of: object, earlier: JobEvent) -> None:
    """Return None: what `@job_action(nothing)` answers to a repeated key."""
    return


def job_action(
    repeat: Callable[[Any, JobEvent], Any], *, what: str = "", holds_unit: bool = False
) -> Callable[[Callable[Concatenate[JobAction, _Of, _P], _R]], Callable[Concatenate[_Of, _P], _R]]:
    """Turn a function into an action on a job: one transaction, the job locked, one event.

    The first argument is a job or a row with a `job`; `by`, `at` and `key` are keywords. The
    function gets a `JobAction` before its own arguments and must call `record`, `move` or
    `nothing_changed` on it, else RuntimeError. If the job's history already has an event with
    this `key`, nothing changes and `repeat(first argument, earlier event)` is returned.
    `what` is the name of the event, default the function's. `holds_unit` also locks the unit.
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
    """Turn a function into an action that adds a row to a unit: one transaction, the unit locked.

    The first argument is a unit or a row with a `unit`; `key` is a keyword. If one of the unit's
    `rows` (name of the relation) already has this key, nothing changes and `answer(row)` is
    returned.
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
