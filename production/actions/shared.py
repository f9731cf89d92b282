"""What the actions of the bench have in common."""

from production.models import Cast
from studio.actions import refuse_closed
from studio.models import Job
from studio.stages import MoveRefused, Stage

MOST_G = 50_000


def again(cast: Cast) -> Cast:
    """The cast as it stands now, under its job's lock."""
    return Cast.objects.select_related("piece__child", "piece__mould", "pour__plaster", "unit").get(
        pk=cast.pk
    )


def name_of(cast: Cast) -> str:
    return f"{cast.piece} ({cast.piece.job.spoken_reference})"


def refuse_gone(job: Job, cast: Cast) -> None:
    refuse_closed(job)
    if cast.spoiled_at:
        raise MoveRefused(f"{name_of(cast)}: this cast was noted as spoiled.")
    if cast.piece.left_off_at:
        raise MoveRefused(f"{name_of(cast)} was left off the job.")


def refuse_not_on_the_bench(job: Job, cast: Cast) -> None:
    refuse_gone(job, cast)
    if not cast.demoulded_at:
        raise MoveRefused(f"{name_of(cast)} is still in the mould.")
    if job.stage in (Stage.FRAMING, Stage.READY):
        raise MoveRefused(f"{name_of(cast)} is in its frame: the job is at “{job.stage_words}”.")
