"""Background work: reading bank statements."""

from orders.bank.actions import read_statement
from orders.bank.models import Statement
from studio.roles import Role
from studio.work.models import Work
from studio.work.queue import ReportProgress, WorkResult, work_kind


@work_kind("bank_statement", Role.OWNER)
def bank_statement(work: Work, tell: ReportProgress) -> WorkResult:
    """Read a bank's file; if interrupted it continues after the last stored line."""
    statement = work.unit.statements.get(pk=work.facts["statement"])
    read = read_statement(statement, tell=tell)
    if read.state == Statement.State.UNREADABLE:
        return WorkResult(words=read.error, url=read.get_absolute_url())
    lines = "line is" if read.new == 1 else "lines are"
    return WorkResult(words=f"{read.new} {lines} new.", url=read.get_absolute_url())
