"""How large the hands and feet of a job will be, or were measured to be: a section of its page."""

from collections.abc import Mapping
from datetime import date, datetime

from production import queries
from studio.models import Job, Role
from studio.panels import Panel, job_panel
from studio.stages import Stage
from studio.watched import watched


@job_panel(20)
def sizes_of_job(job: Job, role: Role, now: datetime) -> Panel | None:
    """Until the pour for all, after it for what was measured. Six queries."""
    found, children = _sizes(job.pk, queries.local_day(now))
    if job.stage not in (Stage.BOOKED, Stage.CLAY_REST):
        found = tuple(each for each in found if each.measured_mm)
    if not found:
        return None
    context = {"sizes": found, "children": max(children[each.kind] for each in found)}
    return Panel("Sizes", "production/_sizes_panel.html", context, anchor="sizes")


@watched
def _sizes(job_pk: int, today: date) -> tuple[tuple[queries.PieceSize, ...], Mapping[str, int]]:
    """Of every piece on the job, and how many own children were measured for each kind of limb."""
    job = Job.objects.select_related("unit").get(pk=job_pk)
    own = queries.own_sizes(job.unit)
    pieces = (
        job.pieces.on_the_job().select_related("child").prefetch_related("impressions__sitting")
    )
    found = tuple(queries.piece_size(piece, today, own) for piece in pieces)
    return found, {kind: learnt.children for kind, learnt in own.items()}
