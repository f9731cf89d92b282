"""How large the hands and feet of a job will be, or were measured to be: a section of its page."""

from datetime import datetime

from django.db.models import prefetch_related_objects

from production.casts import measures
from production.casts import pieces as casts_pieces
from studio.jobs.models import Job
from studio.roles import Role
from studio.stages import Stage
from studio.web.panels import Panel, job_panel


@job_panel(20)
def sizes_of_job(job: Job, role: Role, now: datetime) -> Panel | None:
    """Return the panel with expected and measured sizes; after the pour only measured ones. Four queries."""
    today, own = casts_pieces.local_day(now), measures.own_calibrations(job.unit)
    prefetch_related_objects([job], "pieces__child", "pieces__prints__sitting")
    pieces = (piece for piece in job.pieces.all() if not piece.left_off_at)
    found = [measures.piece_size(piece, today, own) for piece in pieces]
    if job.stage not in (Stage.BOOKED, Stage.CLAY_REST):
        found = [each for each in found if each.measured_mm]
    if not found:
        return None
    context = {"sizes": found, "children": max(own[each.kind].children for each in found)}
    return Panel("Sizes", "production/casts/_sizes_panel.html", context, anchor="sizes")
