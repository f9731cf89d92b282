"""Actions on plasters, workshop, room readings and moulds."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from production.casts.models import Mould, Plaster, RoomReading, Workshop
from production.casts.stored_forecasts import store_forecasts
from production.drying.air import TOO_HOT_C, Room
from production.event_words import Measured
from studio.accounts.actions import lock_unit
from studio.accounts.models import Unit, User
from studio.jobs.job_action import JobAction, job_action, refuse_closed, unit_action
from studio.jobs.models import Piece
from studio.stages import ActionRefused, MoveRefused
from studio.versions import save_edited


@transaction.atomic
def add_plaster(unit: Unit, *, facts: Mapping[str, Any]) -> Plaster:
    """Add a plaster; the first one becomes the usual one. Raises ActionRefused for a name in use."""
    lock_unit(unit)
    _refuse_same_name(unit, facts["name"])
    usual = bool(facts["usual"]) or not unit.plasters.in_use().exists()
    if usual:
        unit.plasters.update(usual=False)
    return Plaster.objects.create(unit=unit, **{**facts, "usual": usual})


@transaction.atomic
def edit_plaster(plaster: Plaster, *, facts: Mapping[str, Any], seen_version: int) -> Plaster:
    """Change a plaster; past pours keep their figures.

    Raises EditedMeanwhile; ActionRefused for a name in use, or if no plaster would be the usual one.
    """
    unit = plaster.unit
    lock_unit(unit)
    _refuse_same_name(unit, facts["name"], but=plaster)
    if plaster.usual and not facts["usual"]:
        raise ActionRefused("One plaster is the usual one: make another one usual instead.")
    if facts["usual"]:
        unit.plasters.exclude(pk=plaster.pk).update(usual=False)
    save_edited(plaster, facts, seen_version=seen_version)
    return plaster


@transaction.atomic
def put_plaster_away(plaster: Plaster, *, at: datetime) -> None:
    """Retire a plaster; past pours keep it. Repeating it changes nothing. Raises ActionRefused for the usual one."""
    lock_unit(plaster.unit)
    plaster.refresh_from_db()
    if plaster.usual:
        raise ActionRefused(f"{plaster} is what you usually mix: make another one usual first.")
    if plaster.retired_at is None:
        plaster.retired_at = at
        plaster.save(update_fields=["retired_at"])


@transaction.atomic
def edit_workshop(
    unit: Unit, *, facts: Mapping[str, Any], seen_version: int, at: datetime
) -> Workshop:
    """Change tools and usual air, and forecast drying again.

    Raises EditedMeanwhile; ActionRefused for air that is too hot.
    """
    lock_unit(unit)
    _refuse_too_hot(facts["temperature_c"])
    tools, _ = Workshop.objects.get_or_create(unit=unit)
    save_edited(tools, facts, seen_version=seen_version)
    store_forecasts(unit, at)
    return tools


@unit_action("room_readings")
def read_room(
    unit: Unit,
    *,
    temperature_c: float,
    humidity_percent: float,
    by: User,
    at: datetime,
    key: UUID,
) -> RoomReading:
    """Record temperature (°C) and relative humidity (%) of the drying room, and forecast drying again.

    Raises ActionRefused for impossible figures or air that is too hot.
    """
    _refuse_too_hot(temperature_c)
    try:
        Room(temperature_c, humidity_percent)
    except ValueError as impossible:
        raise ActionRefused(str(impossible)) from None
    read = RoomReading.objects.create(
        unit=unit,
        temperature_c=temperature_c,
        humidity_percent=humidity_percent,
        by=by,
        at=at,
        key=key,
    )
    store_forecasts(unit, at)
    return read


@job_action(lambda piece, earlier: Mould.objects.get(piece=piece))
def measure_mould(
    act: JobAction,
    piece: Piece,
    *,
    outline: str,
    length_mm: int,
    width_mm: int,
    depth_mm: int,
    by: User,
    at: datetime,
    key: UUID,
) -> Mould:
    """Record the mould of a piece: `outline` is a value of `Mould.Outline`; a new measurement replaces the last.

    Raises MoveRefused for a closed job, a piece left off, or one that is poured already.
    """
    job = act.job
    refuse_closed(job)
    if piece.left_off_at:
        raise MoveRefused(f"{piece} was left off the job.")
    if piece.casts.filter(spoiled_at=None).exists():
        raise MoveRefused(f"{piece} is poured already: its mould can no longer be measured.")
    said = {"outline": outline, "length_mm": length_mm, "width_mm": width_mm, "depth_mm": depth_mm}
    mould, _ = Mould.objects.update_or_create(piece=piece, defaults={**said, "at": at, "by": by})
    act.record(subject=piece, facts=Measured(length_mm, width_mm, depth_mm))
    return mould


def _refuse_same_name(unit: Unit, name: str, but: Plaster | None = None) -> None:
    same = unit.plasters.in_use().filter(name__iexact=name.strip())
    if any(each != but for each in same):
        raise ActionRefused(f"There is a plaster called {name.strip()} already.")


def _refuse_too_hot(temperature_c: float) -> None:
    if temperature_c > TOO_HOT_C:
        raise ActionRefused(
            f"{temperature_c:g} °C is too hot: above {TOO_HOT_C:g} °C set plaster loses its bound "
            "water and crumbles. Cool the place first, then write down what it shows."
        )
