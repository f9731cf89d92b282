"""The history of a job in words, and its steps on the stage strip."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

from studio.jobs.stage_strip import Step, stage_strip
from studio.stages import Stage

if TYPE_CHECKING:
    from studio.jobs.models import Job


def is_late(job: "Job", today: date) -> bool:
    """Whether an open job was promised for a day before `today`."""
    return not job.is_closed and job.promised_on is not None and job.promised_on < today


@dataclass(frozen=True, slots=True)
class HistoryEntry:
    """An event in words; `by` is empty for what the family did on its private page."""

    what: str
    to_stage: str
    at: datetime
    words: str
    details: str
    by: str


def job_history(job: "Job") -> tuple[HistoryEntry, ...]:
    """List the events of a job that was read `with_people`, the newest first. One query."""
    names = {piece.pk: str(piece) for piece in job.pieces.all()}
    events = job.events.select_related("by").newest_first()
    return tuple(
        HistoryEntry(
            e.what, e.to_stage, e.at, e.heading, e.details(names), str(e.by) if e.by else ""
        )
        for e in events
    )


def stage_steps(job: "Job", events: Iterable[HistoryEntry]) -> tuple[Step, ...]:
    """Return the steps of the stage strip; for a job that was called off, those that it reached.

    `events` is the job's history, the newest first.
    """
    reached: dict[str, datetime] = {}
    for event in events:
        if event.what in ("move", "open_job"):
            reached.setdefault(event.to_stage, event.at)
    way = {str(stage): str(stage.label) for stage in Stage if stage != Stage.CALLED_OFF}
    strip = stage_strip(job.stage, way, reached)
    if job.stage == Stage.CALLED_OFF:
        return (*strip, Step("Called off", "now", reached.get(job.stage)))
    return strip
