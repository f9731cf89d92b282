"""Actions on spoil reasons, and the recorded cost of a spoiled cast."""

from datetime import date, datetime

from django.db import transaction
from django.db.models import Sum

from production.casts import mixes, pieces
from production.casts.models import Cast
from production.spoilage.models import Spoilage, SpoilReason
from production.stock.models import StockMove
from production.working_week.calendar import working_week
from studio.accounts.actions import lock_unit
from studio.accounts.models import Unit
from studio.stages import ActionRefused


@transaction.atomic
def add_spoil_reason(unit: Unit, *, how: str, words: str, from_on: date) -> SpoilReason:
    """Add a reason in the unit's own words, offered from that day. Raises ActionRefused for a reason in use."""
    lock_unit(unit)
    said = words.strip()
    if not said or how not in Cast.Spoil.values:
        raise ActionRefused("Write the reason, and choose what it is counted as.")
    if unit.spoil_reasons.filter(words__iexact=said, until_on=None).exists():
        raise ActionRefused(f"“{said}” is on your list already.")
    return SpoilReason.objects.create(unit=unit, how=how, words=said, from_on=from_on)


@transaction.atomic
def end_spoil_reason(reason: SpoilReason, *, on: date) -> None:
    """Stop offering a reason from that day; past casts keep it. Repeating it changes nothing."""
    held = SpoilReason.objects.select_for_update().get(pk=reason.pk)
    if held.until_on is None:
        held.until_on = max(on, held.from_on)
        held.save(update_fields=["until_on"])


def record_spoilage(
    cast: Cast, *, reason: SpoilReason | None, print_whole: bool, at: datetime
) -> Spoilage:
    """Record days, minutes, plaster and cost lost with a spoiled cast; call it inside the action that spoils it."""
    pour = cast.pour
    sharing = pour.casts.count()
    week = working_week(cast.unit)
    minutes = week.pour_minutes / sharing + (week.demould_minutes if cast.demoulded_at else 0)
    begun_at = pour.poured_at
    found = mixes.live_print(cast.piece)
    if not print_whole:
        minutes += cast.unit.sitting_minutes
        begun_at = min(begun_at, (found and found.taken_at) or begun_at)
    value = pour.stock_moves.filter(what=StockMove.What.USED).aggregate(minor=Sum("value_minor"))[
        "minor"
    ]
    remedy = Spoilage.Remedy.RE_POUR if print_whole else Spoilage.Remedy.NEW_SITTING
    return Spoilage.objects.create(
        cast=cast,
        reason=reason,
        remedy=remedy,
        days_lost=max((pieces.local_day(at) - pieces.local_day(begun_at)).days, 0),
        minutes_lost=round(minutes),
        plaster_g=round(pour.plaster_g / sharing, 1),
        cost_minor=None if value is None else round(-value / sharing),
    )
