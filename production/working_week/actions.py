"""Changes of the working week, and of days that differ from it."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from production.working_week.models import OtherDays, WorkingWeek
from studio.accounts.actions import lock_unit
from studio.accounts.models import Unit, User
from studio.jobs.job_action import unit_action
from studio.stages import ActionRefused
from studio.versions import save_edited

LONGEST_DAYS = 366


@transaction.atomic
def edit_working_week(unit: Unit, *, facts: Mapping[str, Any], seen_version: int) -> WorkingWeek:
    """Change the unit's working week. Raises EditedMeanwhile; ActionRefused for a week in which nothing can be made."""
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
    """Add days off (0 minutes) or with other minutes. Raises ActionRefused for a reversed range or more than a year."""
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
    """Withdraw these days; repeating it changes nothing."""
    OtherDays.objects.filter(pk=days.pk, dropped_at=None).update(dropped_at=at)
