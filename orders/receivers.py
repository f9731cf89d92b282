"""What the orders do when the core tells of a change."""

from datetime import datetime
from typing import Any
from uuid import uuid4

from django.dispatch import receiver

from orders.actions.pricing import price_job
from studio.models import Job, User
from studio.signals import pieces_changed
from studio.stages import Refused


@receiver(pieces_changed)
def price_again(job: Job, by: User | None, at: datetime, **_signal: Any) -> None:
    """Keep the price in step with the pieces.

    Without a list, beyond what the list can make up, or under a standing invoice the job changes
    all the same; the Money panel then says what to do.
    """
    try:
        price_job(job, by=by, at=at, key=uuid4())
    except Refused:
        return
