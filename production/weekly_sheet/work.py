"""Background work of the weekly sheet."""

from django.utils import timezone

from production.weekly_sheet import paper
from studio import units
from studio.work.models import Work
from studio.work.queue import ReportProgress, WorkResult, work_kind

WEEKLY_SHEET = "weekly_sheet"


@work_kind(WEEKLY_SHEET)
def weekly_sheet(work: Work, tell: ReportProgress) -> WorkResult:
    """Draw the sheet of the week named in `facts`."""
    tell(0, 2)
    days = units.parse_week(work.facts["week"])
    context = paper.sheet_context(work.unit, days, timezone.now())
    tell(1, 2)
    return WorkResult(
        "The sheet is ready to print.",
        file=paper.written(context),
        file_name=paper.file_name(days),
    )
