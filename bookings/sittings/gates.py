from bookings.sittings.prints import pieces_with_print
from studio.jobs.models import Job
from studio.stages import Stage, gate


@gate(Stage.BOOKED, Stage.CLAY_REST)
def every_print_is_taken(job: Job) -> str | None:
    missing = job.pieces.on_the_job().exclude(pk__in=pieces_with_print(job)).select_related("child")
    words = "; ".join(str(piece) for piece in missing)
    return f"Without a print so far: {words}." if words else None


@gate(Stage.BOOKED, Stage.CLAY_REST)
def no_sitting_is_planned(job: Job) -> str | None:
    if job.sittings.planned().exists():
        return "Its sitting is not finished yet: finish it, or take it out of the diary."
    return None
