"""What the worker does for the bench."""

from django.utils import timezone

from production import sheet
from studio import units
from studio.models import Work
from studio.work import ReportProgress, WorkResult, work_kind

WEEKLY_SHEET = "weekly_sheet"


@work_kind(WEEKLY_SHEET)
def weekly_sheet(work: Work, tell: ReportProgress) -> WorkResult:
    """The sheet of the week named in `facts`, as the books stand when it is drawn."""
    tell(0, 2)
    days = units.parse_week(work.facts["week"])
    context = sheet.sheet_context(work.unit, days, timezone.now())
    tell(1, 2)
    return WorkResult(
        "The sheet is ready to print.",
        file=sheet.written(context),
        file_name=sheet.file_name(days),
    )
