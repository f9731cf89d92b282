"""What the bench does when the core tells it something."""

from datetime import datetime
from typing import Any

from django.dispatch import receiver

from production import actions
from studio.models import Job, User
from studio.signals import pieces_changed


@receiver(pieces_changed, dispatch_uid="production.pieces_changed")
def settle(sender: type[Job], *, job: Job, by: User, at: datetime, **_kwargs: Any) -> None:
    actions.settle_after_leaving_off(job, by=by, at=at)
