"""What bookings asks before a job goes on: every print taken, the sitting over, no yes taken back."""

from bookings.queries import impressed_pieces, stopped
from studio.models import Job
from studio.stages import Stage, gate


@gate(Stage.BOOKED, Stage.CLAY_REST)
def every_piece_is_impressed(job: Job) -> str | None:
    missing = job.pieces.on_the_job().exclude(pk__in=impressed_pieces(job)).select_related("child")
    words = "; ".join(str(piece) for piece in missing)
    return f"Without an impression so far: {words}." if words else None


@gate(Stage.BOOKED, Stage.CLAY_REST)
def no_sitting_is_ahead(job: Job) -> str | None:
    if job.sittings.planned().exists():
        return "Its sitting is not finished yet: finish it, or take it out of the diary."
    return None


@gate(Stage.DRYING, Stage.FRAMING)
@gate(Stage.FRAMING, Stage.READY)
def the_family_has_not_stopped_it(job: Job) -> str | None:
    """Taken back: the work stops. Whoever was never asked is not held up here."""
    if not stopped([job]):
        return None
    return (
        f"The {job.family.name} family has taken back its yes to the casts: speak with them, "
        "then write down a new yes, or call the job off."
    )
