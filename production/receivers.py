"""What the bench does when the core or the sittings tell it something."""

from datetime import datetime
from typing import Any
from uuid import UUID

from django.dispatch import receiver

from bookings.models import Impression, Sitting
from bookings.signals import print_lost, sitting_finished, sitting_reopened
from production import actions
from production.stores import using
from studio.models import Job, User
from studio.signals import pieces_changed


@receiver(pieces_changed, dispatch_uid="production.pieces_changed")
def settle(sender: type[Job], *, job: Job, by: User, at: datetime, **_kwargs: Any) -> None:
    actions.settle_after_leaving_off(job, by=by, at=at)


@receiver(sitting_finished, dispatch_uid="production.sitting_finished")
def clay_is_used(sitting: Sitting, by: User, at: datetime, key: UUID, **_signal: Any) -> None:
    using.prints_take(sitting.unit, _prints(sitting), by=by, at=at, key=key)


@receiver(sitting_reopened, dispatch_uid="production.sitting_reopened")
def clay_was_not_used(sitting: Sitting, by: User, at: datetime, key: UUID, **_signal: Any) -> None:
    prints = _prints(sitting)
    using.prints_give_back(sitting.unit, prints, whole=True, by=by, at=at, key=key)


@receiver(print_lost, dispatch_uid="production.print_lost")
def clay_comes_back(
    impression: Impression, by: User, at: datetime, key: UUID, **_signal: Any
) -> None:
    unit = impression.piece.job.unit
    using.prints_give_back(unit, [impression], by=by, at=at, key=key)


def _prints(sitting: Sitting) -> list[Impression]:
    """The prints that came of a sitting, each with its job."""
    return list(sitting.impressions.taken().select_related("piece__job"))
