"""What the owner says about the working week, and about the plan."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from production.event_words import Pinned, WayHome
from production.plan.grid import NEVER
from production.planning.models import ByCourier, OtherDays, PlanPin, WorkingWeek
from studio.actions import (
    ActionRefused,
    JobAction,
    job_action,
    lock_unit,
    nothing,
    refuse_closed,
    save_edited,
    unit_action,
)
from studio.models import Job, Piece, Unit, User

LONGEST_DAYS = 366


@transaction.atomic
def edit_working_week(unit: Unit, *, facts: Mapping[str, Any], seen_version: int) -> WorkingWeek:
    """Raises EditedMeanwhile, and ActionRefused for a week in which nothing can be made."""
    lock_unit(unit)
    if not any(facts[day] for day in WorkingWeek.DAYS):
        raise ActionRefused("A week without a minute at the bench makes nothing: open one day.")
    longest = max(facts[day] for day in WorkingWeek.DAYS)
    if longest < facts["pour_minutes"] + facts["demould_minutes"]:
        raise ActionRefused("No day is long enough to pour and demould on it: open one longer.")
    if longest <= facts["setup_minutes"]:
        raise ActionRefused("No day is long enough to set up for framing and frame.")
    week, _ = WorkingWeek.objects.get_or_create(unit=unit)
    save_edited(week, facts, seen_version=seen_version)
    return week


@unit_action("other_days")
def add_other_days(
    unit: Unit,
    *,
    first_on: date,
    last_on: date,
    minutes: int = 0,
    why: str = "",
    by: User,
    at: datetime,
    key: UUID,
) -> OtherDays:
    """Days off, or days with other minutes. The same key twice is one. Raises ActionRefused."""
    if last_on < first_on:
        raise ActionRefused("The last day lies before the first.")
    if (last_on - first_on).days > LONGEST_DAYS:
        raise ActionRefused("That is more than a year: write it in parts.")
    return OtherDays.objects.create(
        unit=unit,
        first_on=first_on,
        last_on=last_on,
        minutes=minutes,
        why=why.strip(),
        by=by,
        at=at,
        key=key,
    )


@transaction.atomic
def drop_other_days(days: OtherDays, *, at: datetime) -> None:
    """Take them back; twice is once."""
    OtherDays.objects.filter(pk=days.pk, dropped_at=None).update(dropped_at=at)


@job_action(nothing)
def pin_step(
    act: JobAction,
    job: Job,
    *,
    kind: str,
    piece: Piece | None,
    on: date,
    by: User,
    at: datetime,
    key: UUID,
) -> PlanPin | None:
    """Keep a step of the job on that day: no plan moves it until it is taken out. The same key twice is one.

    Raises MoveRefused for a job that has ended, ActionRefused for a day gone by or beyond all planning, or
    a step that is none.
    """
    held = act.job
    refuse_closed(held)
    if kind not in PlanPin.Kind.values or (piece and piece.job_id != job.pk):
        raise ActionRefused("This step is not part of the job’s plan. Reload the plan.")
    if on < timezone.localdate(at):
        raise ActionRefused("That day is over: choose today or a day to come.")
    if (on - timezone.localdate(at)).days > NEVER:
        raise ActionRefused("That day lies more than two years ahead: check the year.")
    _take_out(held, kind, piece, at)
    pin = PlanPin.objects.create(job=held, kind=kind, piece=piece, on=on, by=by, at=at)
    act.record(subject=pin.piece, facts=Pinned(pin.kind, pin.on.isoformat()))
    return pin


@job_action(nothing)
def unpin_step(
    act: JobAction, job: Job, *, kind: str, piece: Piece | None, by: User, at: datetime, key: UUID
) -> None:
    """Let the plan move the step again. The same key twice is once; nothing where it is not kept."""
    held = act.job
    pin = held.plan_pins.filter(kind=kind, piece=piece, taken_out_at=None).first()
    if pin is None and piece:  # it was kept for all pieces of the job
        piece = None
        pin = held.plan_pins.filter(kind=kind, piece=None, taken_out_at=None).first()
    if pin:
        _take_out(held, kind, piece, at)
        act.record(subject=pin.piece, facts=Pinned(pin.kind, pin.on.isoformat()))
    else:
        act.nothing_changed()


@job_action(nothing)
def send_by_courier(
    act: JobAction, job: Job, *, courier: bool, by: User, at: datetime, key: UUID
) -> None:
    """It goes home by courier, on the courier's days; or it does not. The same key twice is once."""
    held = act.job
    refuse_closed(held)
    if courier:
        ByCourier.objects.get_or_create(job=held, defaults={"at": at})
    else:
        ByCourier.objects.filter(job=held).delete()
    act.record(facts=WayHome(courier))


def _take_out(job: Job, kind: str, piece: Piece | None, at: datetime) -> None:
    job.plan_pins.filter(kind=kind, piece=piece, taken_out_at=None).update(taken_out_at=at)
