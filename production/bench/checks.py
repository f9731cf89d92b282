"""Checks shared by the bench's actions; each refuses with a sentence that names the cast."""

from production.casts.models import Cast
from studio.jobs.job_action import refuse_closed
from studio.jobs.models import Job
from studio.stages import MoveRefused, Stage

MOST_G = 50_000  # no mix and no cast weighs as much


def reload_cast(cast: Cast) -> Cast:
    """Read the cast again, with what the actions need, once its job is locked. One query."""
    return Cast.objects.select_related("piece__child", "piece__mould", "pour__plaster", "unit").get(
        pk=cast.pk
    )


def cast_name(cast: Cast) -> str:
    """Name a cast by child, limb and job: "Wren, left hand (CY8Y-EGPH)"."""
    return f"{cast.piece} ({cast.piece.job.display_reference})"


def refuse_inactive(job: Job, cast: Cast) -> None:
    """Raise MoveRefused for a closed job, a spoiled cast or a piece left off the job."""
    refuse_closed(job)
    if cast.spoiled_at:
        raise MoveRefused(f"{cast_name(cast)}: this cast was noted as spoiled.")
    if cast.piece.left_off_at:
        raise MoveRefused(f"{cast_name(cast)} was left off the job.")


def refuse_unless_on_rack(job: Job, cast: Cast) -> None:
    """Raise MoveRefused unless the cast is out of the mould and not in a frame yet."""
    refuse_inactive(job, cast)
    if not cast.demoulded_at:
        raise MoveRefused(f"{cast_name(cast)} is still in the mould.")
    if job.stage in (Stage.FRAMING, Stage.READY):
        raise MoveRefused(f"{cast_name(cast)} is in its frame: the job is at “{job.stage_words}”.")
