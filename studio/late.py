"""Promises that have passed while the work is not at its end: Today says so, whatever the bench says."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import TYPE_CHECKING

from django.utils import timezone

from studio.heads import heads, read_heads
from studio.kept import Kept, Row, question
from studio.models import Job, Role, Unit
from studio.panels import TodayItem, today_source
from studio.stages import Stage
from studio.units import day

if TYPE_CHECKING:
    from django.db.models import QuerySet

# From framing on, the bench and the hand-over tell of a passed promise themselves.
TOLD_ELSEWHERE = (Stage.FRAMING, Stage.READY)


@today_source(15)
def promises_passed(unit: Unit, role: Role, now: datetime) -> Sequence[TodayItem]:
    """Families to be told a new day. One query."""
    return _kept.of(unit.pk, _late.raw(unit.pk, timezone.localdate(now)))


@question
def _late(unit_pk: int, today: date) -> "QuerySet[Job, Row]":
    late = Job.objects.filter(unit=unit_pk).late_on(today).exclude(stage__in=TOLD_ELSEWHERE)
    return heads(late.soonest_first())


def _items(rows: list[Row]) -> list[TodayItem]:
    return [
        TodayItem(
            group="bench",
            title=f"Tell {job.family} a new day",
            url=job.url,
            who=job.first_names,
            reference=job.reference,
            due_on=job.promised_on,
            why_late=f"Late: promised for {day(job.promised_on)}, and still at “{job.stage_words}”",
        )
        for job in read_heads(_late.read(rows))
        if job.promised_on
    ]


_kept = Kept(_items)
