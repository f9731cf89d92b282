"""What the orders do when the core, the sittings or the frames tell of a change."""

from datetime import datetime
from typing import Any
from uuid import UUID, uuid4, uuid5

from django.dispatch import receiver

from bookings.signals import sitting_finished
from bookings.sittings.models import Sitting
from orders.order.actions import follow_frame_size, price_job
from production.signals import frame_chosen
from studio.accounts.models import User
from studio.jobs.models import Job
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


@receiver(sitting_finished, dispatch_uid="orders.sitting_finished")
def prints_are_measured(sitting: Sitting, **_signal: Any) -> None:
    follow_frame(job=sitting.job, **_signal)


@receiver(frame_chosen, dispatch_uid="orders.frame_chosen")
def follow_frame(job: Job, by: User | None, at: datetime, key: UUID, **_signal: Any) -> None:
    """Keep the price in step with the size of the frame.

    A frame beyond the steps of the list keeps its price; the order's page says so.
    """
    try:
        follow_frame_size(job, by=by, at=at, key=uuid5(key, "size_frame"))
    except Refused:
        return
