"""What the bench does when the core or the sittings tell it something."""

from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models.signals import post_save
from django.dispatch import receiver
from django.utils import timezone

from bookings.signals import print_lost, sitting_finished, sitting_reopened
from bookings.sittings.models import ClayPrint, Sitting
from production.bench import actions
from production.casts import measures
from production.planning import plan_runs
from production.stock import usage
from production.stock.models import Material, Purchase, StockMove
from production.stores import outlooks
from studio.accounts.models import Unit, User
from studio.jobs.models import Job, JobEvent
from studio.signals import pieces_changed


@receiver(pieces_changed, dispatch_uid="production.pieces_changed")
def settle(sender: type[Job], *, job: Job, by: User, at: datetime, **_kwargs: Any) -> None:
    actions.release_left_off_pieces(job, by=by, at=at)


@receiver(sitting_finished, dispatch_uid="production.sitting_finished")
def clay_is_used(sitting: Sitting, by: User, at: datetime, key: UUID, **_signal: Any) -> None:
    usage.use_for_prints(sitting.unit, _prints(sitting), by=by, at=at, key=key)


@receiver(sitting_reopened, dispatch_uid="production.sitting_reopened")
def clay_was_not_used(sitting: Sitting, by: User, at: datetime, key: UUID, **_signal: Any) -> None:
    prints = _prints(sitting)
    usage.return_from_prints(sitting.unit, prints, whole=True, by=by, at=at, key=key)


@receiver(print_lost, dispatch_uid="production.print_lost")
def clay_comes_back(
    clay_print: ClayPrint, by: User, at: datetime, key: UUID, **_signal: Any
) -> None:
    unit = clay_print.piece.job.unit
    usage.return_from_prints(unit, [clay_print], by=by, at=at, key=key)


@receiver(post_save, sender=ClayPrint, dispatch_uid="production.print_logged")
def print_logged(instance: ClayPrint, **_signal: Any) -> None:
    if instance.said_at:
        measures.store_calibrations(instance.sitting.unit)


@receiver(post_save, sender=JobEvent, dispatch_uid="production.job_changed")
def job_changed(instance: JobEvent, **_signal: Any) -> None:
    """Keep a stored day for each step of the job, once all that belongs to the event is written."""
    unit = instance.job.unit
    transaction.on_commit(lambda: _keep_planned(unit), robust=True)


@receiver(post_save, sender=StockMove, dispatch_uid="production.stock_moved")
def stock_moved(instance: StockMove, **_signal: Any) -> None:
    outlooks.stock_changed(instance.lot.material)


@receiver(post_save, sender=Purchase, dispatch_uid="production.purchase_changed")
def purchase_changed(instance: Purchase, **_signal: Any) -> None:
    outlooks.stock_changed(instance.material)


@receiver(post_save, sender=Material, dispatch_uid="production.material_changed")
def material_changed(instance: Material, **_signal: Any) -> None:
    outlooks.stock_changed(instance)


def _keep_planned(unit: Unit) -> None:
    with timezone.override(unit.time_zone):  # a day begins where the unit is
        plan_runs.keep_planned(unit, timezone.now())


def _prints(sitting: Sitting) -> list[ClayPrint]:
    """The prints that came of a sitting, each with its job."""
    return list(sitting.prints.taken().select_related("piece__job"))
