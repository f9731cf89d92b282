"""The panel of a job with the family's private links."""

from datetime import datetime
from uuid import uuid4

from orders.family_page.forms import LinkForm
from studio.jobs.models import Job
from studio.roles import Role
from studio.web.panels import Panel, job_panel


@job_panel(order=90)
def familys_links(job: Job, role: Role, now: datetime) -> Panel | None:
    """List the family's links; for the owner only, because the page shows what the job costs."""
    if role != Role.OWNER:
        return None
    return Panel(
        title="Family’s link",
        template="orders/family_page/_links.html",
        context={
            "job": job,
            "links": job.family_links.select_related("made_by"),
            "form": LinkForm(),
            "key": uuid4(),
            "now": now,
        },
        anchor="links",
    )
