"""What planned work will use of the materials, for the stores."""

from collections.abc import Sequence
from datetime import datetime

from django.utils import timezone

from production.bench.jobs import open_jobs
from production.bench.piece_now import habits
from production.frames import materials as frames_materials
from production.planning.work_ahead import work_ahead
from production.stock.models import Material
from production.stores.work_to_come import WorkToCome, work_source
from production.working_week.calendar import calendar
from studio.accounts.models import Unit


@work_source
def material_needs(unit: Unit, materials: Sequence[Material], now: datetime) -> WorkToCome:
    """Return the planned work. About ten queries, more if cuttings use any of these materials."""
    today = timezone.localdate(now)
    jobs = open_jobs(unit, now)
    cut = frames_materials.cut_ahead(unit, [each.job for each in jobs], materials, today)
    work = work_ahead([each.facts for each in jobs], habits(unit), today, cut.needs)
    return WorkToCome(work, cut.materials, calendar(unit, today).days_off)
