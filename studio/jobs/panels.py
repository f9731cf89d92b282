from collections.abc import Iterator
from datetime import datetime

from django.utils import timezone

from studio.accounts.models import Unit
from studio.roles import Role
from studio.stages import Stage
from studio.units import day
from studio.web.panels import TodayItem, today_source

# From framing on, production and orders show late jobs themselves.
SHOWN_ELSEWHERE = (Stage.FRAMING, Stage.READY)


@today_source(15)
def promises_passed(unit: Unit, role: Role, now: datetime) -> Iterator[TodayItem]:
    """Jobs before framing whose promised day is over. Four queries."""
    late = unit.jobs.late_on(timezone.localdate(now)).exclude(stage__in=SHOWN_ELSEWHERE)
    for job in late.soonest_first().with_people():
        if job.promised_on:
            yield TodayItem(
                group="bench",
                title=f"Tell {job.family} a new day",
                url=job.get_absolute_url(),
                detail=job.first_names,
                reference=job.reference,
                due_on=job.promised_on,
                why_late=f"Late: promised for {day(job.promised_on)}, and still at “{job.stage_words}”",
            )
