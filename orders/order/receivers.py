"""Reprice orders when pieces, prints or frames change."""

from datetime import datetime
from typing import Any
from uuid import UUID, uuid4, uuid5

from django.dispatch import receiver

from bookings.signals import sitting_finished
from bookings.sittings.models import Sitting
from orders.order.actions import price_job, reprice_for_frame_size
from production.signals import frame_chosen
from studio.accounts.models import User
from studio.jobs.models import Job
from studio.signals import pieces_changed
from studio.stages import Refused


@receiver(pieces_changed)
def reprice_for_pieces(job: Job, by: User | None, at: datetime, **_signal: Any) -> None:
    """Price the job again after a change of its pieces.

    Where it cannot be priced, or while an invoice is in force, the pieces change all the same; the
    Money panel then says what to do.
    """
    try:
        price_job(job, by=by, at=at, key=uuid4())
    except Refused:
        return


@receiver(sitting_finished, dispatch_uid="orders.sitting_finished")
def reprice_for_prints(sitting: Sitting, **_signal: Any) -> None:
    """Price the frame again after its prints were measured."""
    reprice_for_frame(job=sitting.job, **_signal)


@receiver(frame_chosen, dispatch_uid="orders.frame_chosen")
def reprice_for_frame(job: Job, by: User | None, at: datetime, key: UUID, **_signal: Any) -> None:
    """Price the frame again after a change of its size.

    A frame beyond the last band keeps its price; the order's page says so.
    """
    try:
        reprice_for_frame_size(job, by=by, at=at, key=uuid5(key, "size_frame"))
    except Refused:
        return
