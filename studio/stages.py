"""The stages of a job, the allowed moves between them, and `move`, the only function that moves a job.

Apps register gates in `ready()`, so this module imports none of them. A gate returns a sentence
while something is still missing; a person sees the sentences of all gates at once.
"""

from collections import defaultdict
from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID

from django.db import models, transaction

from studio import event_words
from studio.event_words import Moved

if TYPE_CHECKING:
    from studio.accounts.models import User
    from studio.jobs.models import Job, JobEvent, Piece


class Stage(models.TextChoices):
    BOOKED = "booked", "Booked"
    CLAY_REST = "clay_rest", "In the clay"
    CASTING = "casting", "Casting"
    DRYING = "drying", "Drying"
    FRAMING = "framing", "Framing"
    READY = "ready", "Ready"
    HANDED_OVER = "handed_over", "Handed over"
    CALLED_OFF = "called_off", "Called off"


# The way forward first. The ways back are for a spoiled piece: re-poured while its print
# is whole (in the clay), else impressed at a new sitting (booked).
MOVES: dict[Stage, tuple[Stage, ...]] = {
    Stage.BOOKED: (Stage.CLAY_REST, Stage.CALLED_OFF),
    Stage.CLAY_REST: (Stage.CASTING, Stage.BOOKED, Stage.CALLED_OFF),
    Stage.CASTING: (Stage.DRYING, Stage.CLAY_REST, Stage.BOOKED, Stage.CALLED_OFF),
    Stage.DRYING: (Stage.FRAMING, Stage.CLAY_REST, Stage.BOOKED, Stage.CALLED_OFF),
    Stage.FRAMING: (Stage.READY, Stage.CLAY_REST, Stage.BOOKED, Stage.CALLED_OFF),
    Stage.READY: (Stage.HANDED_OVER, Stage.FRAMING, Stage.CALLED_OFF),
    Stage.HANDED_OVER: (),
    Stage.CALLED_OFF: (),
}

CLOSED = (Stage.HANDED_OVER, Stage.CALLED_OFF)

OPEN = tuple(stage for stage in Stage if stage not in CLOSED)

BEFORE_FRAMING = OPEN[: OPEN.index(Stage.FRAMING)]

Gate = Callable[["Job"], str | None]

_gates: defaultdict[tuple[Stage, Stage], list[Gate]] = defaultdict(list)


class Refused(Exception):
    """An action is refused for now (409); carries one sentence for each reason."""

    def __init__(self, *reasons: str) -> None:
        super().__init__(*reasons)
        self.reasons = reasons

    def __str__(self) -> str:
        return " ".join(self.reasons)


class MoveRefused(Refused):
    """The table of moves or a gate refuses a move."""


class MovedMeanwhile(Refused):
    """Somebody else moved the job after this person looked at it."""


class ActionRefused(Refused):
    """An action that is not about a stage is refused; a sentence tells what to do instead."""


def gate(start: Stage, to: Stage) -> Callable[[Gate], Gate]:
    """Register a check that must return None before a job may move from `start` to `to`."""

    def register(check: Gate) -> Gate:
        if check not in _gates[start, to]:
            _gates[start, to].append(check)
        return check

    return register


def missing(job: "Job", to: Stage) -> list[str]:
    """List why `job` may not move to stage `to` yet: one sentence for each gate that refuses."""
    return [text for check in _gates[Stage(job.stage), to] if (text := check(job))]


@transaction.atomic
def move(
    job: "Job",
    *,
    seen: Stage,
    to: Stage,
    by: "User | None",
    at: datetime,
    key: UUID,
    subject: "Piece | None" = None,
    reason: str = "",
    why: str = "",
) -> "JobEvent":
    """Move `job` from the stage the person saw to `to`, and record who, when and why.

    `subject` is the piece that sends the job back, `reason` a code of `register_move_reasons`.
    If the job has an event with this `key` already, return that event and move nothing.
    Raises MovedMeanwhile if the job is no longer at `seen`, MoveRefused if MOVES or a gate refuses.
    """
    locked = type(job).objects.select_for_update().get(pk=job.pk)
    if earlier := locked.events.filter(key=key).first():
        job.stage, job.stage_since = locked.stage, locked.stage_since
        return earlier
    _check_move(locked, seen, to)
    locked.stage, locked.stage_since = to, at
    locked.save(update_fields=["stage", "stage_since"])
    job.stage, job.stage_since = to, at
    return locked.events.create(
        what="move",
        from_stage=seen,
        to_stage=to,
        by=by,
        at=at,
        key=key,
        subject=subject,
        facts=event_words.to_store("move", Moved(reason) if reason else None),
        why=why,
    )


def _check_move(job: "Job", seen: Stage, to: Stage) -> None:
    if job.stage != seen:
        raise MovedMeanwhile(
            f"This job is already at “{Stage(job.stage).label}”; "
            f"you were looking at it at “{seen.label}”."
        )
    if to not in MOVES[seen]:
        raise MoveRefused(f"“{seen.label}” cannot be followed by “{to.label}”.")
    if reasons := missing(job, to):
        raise MoveRefused(*reasons)
