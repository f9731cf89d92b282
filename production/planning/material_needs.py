"""Tell the stores what the planned work will take of their materials."""

from collections.abc import Sequence
from datetime import datetime

from production.frames import taking
from production.planning.queries import calendar
from production.planning.work_ahead import work_ahead
from production.queries import facts, local_day
from production.queries.piece_now import habits
from production.stores.models import Material
from production.stores.work_to_come import WorkToCome, work_source
from studio.models import Unit


@work_source
def material_needs(unit: Unit, materials: Sequence[Material], now: datetime) -> WorkToCome:
    """About ten queries, and those of the frames ahead where a cutting takes of these materials."""
    today = local_day(now)
    cut = taking.linked(unit) & {each.pk for each in materials if taking.is_taken(each)}
    cuts = taking.ahead(unit, today) if cut else {}
    work = work_ahead(facts(unit, now), habits(unit), today, cuts)
    return WorkToCome(work, cut, calendar(unit, today).days_off)
