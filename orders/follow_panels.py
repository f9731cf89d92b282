"""The family's links as a section of the job's page."""

from dataclasses import dataclass
from datetime import datetime
from uuid import uuid4

from orders.follow_forms import LinkForm
from orders.models import ParentLink
from studio.models import Job, Role
from studio.panels import Panel, job_panel
from studio.watched import watched


@dataclass(frozen=True, slots=True)
class LinkSaid:
    """A link as the owner reads it."""

    pk: int
    made_at: datetime
    made_by: str
    revoked_at: datetime | None
    expires_at: datetime


@job_panel(order=90)
def familys_links(job: Job, role: Role, now: datetime) -> Panel | None:
    """The owner's alone: the page behind a link says what the job costs."""
    if role != Role.OWNER:
        return None
    return Panel(
        title="Family’s link",
        template="orders/_links.html",
        context={
            "job": job,
            "links": _links(job.pk),
            "form": LinkForm(),
            "key": uuid4(),
            "now": now,
        },
        anchor="links",
    )


@watched
def _links(job_pk: int) -> tuple[LinkSaid, ...]:
    """The newest first. One query."""
    links = ParentLink.objects.filter(job=job_pk).select_related("made_by")
    return tuple(
        LinkSaid(each.pk, each.made_at, str(each.made_by), each.revoked_at, each.expires_at)
        for each in links
    )
