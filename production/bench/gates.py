"""Gates of the bench: each returns a sentence naming the pieces that keep a job from moving on, or None."""

from production.bench import piece_now
from production.bench.framing import FRAME_STEPS
from production.casts import pieces as casts_pieces
from production.frames.models import Frame
from studio.jobs.models import Job, Piece
from studio.stages import Stage, gate


@gate(Stage.CLAY_REST, Stage.CASTING)
def every_piece_is_poured(job: Job) -> str | None:
    """Name the pieces of the job that have no cast yet."""
    return _names("Not poured yet", casts_pieces.pieces_without_cast(job))


@gate(Stage.CASTING, Stage.DRYING)
def every_cast_is_demoulded(job: Job) -> str | None:
    """Name the pieces whose cast is still in the mould."""
    return _names("Still in the mould", casts_pieces.pieces_in_the_mould(job))


@gate(Stage.DRYING, Stage.FRAMING)
def every_cast_is_dry(job: Job) -> str | None:
    """Name the pieces that are neither dry by weight nor released by the owner."""
    return _names("Not dry yet", casts_pieces.undried_pieces(job))


@gate(Stage.FRAMING, Stage.READY)
def every_step_is_ticked(job: Job) -> str | None:
    """Name the framing steps that are not done."""
    frame = Frame.objects.filter(job=job).first()
    left = [step for step in FRAME_STEPS if not getattr(frame, f"{step}_at", None)]
    return f"Still to tick: {', '.join(left)}." if left else None


@gate(Stage.FRAMING, Stage.READY)
def the_frame_is_photographed(job: Job) -> str | None:
    """Ask for a photograph of the finished frame if the family consents to keeping photographs."""
    return "Photograph the finished frame first." if piece_now.needs_photo(job) else None


def _names(what: str, pieces: list[Piece]) -> str | None:
    return f"{what}: {'; '.join(str(piece) for piece in pieces)}." if pieces else None
