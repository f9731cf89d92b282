"""Batches of invoices, issued by the worker."""

from django.urls import reverse
from django.utils import timezone

from orders.actions.invoicing import issue_invoice
from orders.actions.keeping import keep_pdf
from studio.actions import ActionRefused
from studio.models import Role, Work
from studio.stages import Refused
from studio.work import ReportProgress, WorkResult, work_kind

ISSUE_INVOICES = "issue_invoices"
_MOST_REASONS = 2


@work_kind(ISSUE_INVOICES, Role.OWNER)
def issue_invoices(work: Work, tell: ReportProgress) -> WorkResult:
    """Issue and keep an invoice for each order of `facts`, one transaction each: a worker that is
    killed leaves whole invoices only, and the next one goes on behind them.
    """
    by, pks = work.by, work.facts["orders"]
    if by is None:
        raise ActionRefused("Somebody must ask for invoices: each says who issued it.")
    issued, waits = 0, []
    for done, pk in enumerate(pks):
        tell(done, len(pks))
        order = work.unit.orders.select_related("job__family", "unit").get(pk=pk)
        try:
            invoice = issue_invoice(order, by=by, at=timezone.now(), key=work.key_for(pk))
        except Refused as refused:
            waits.append(f"{order.job.spoken_reference}: {refused.reasons[0]}")
            continue
        keep_pdf(invoice, at=timezone.now())
        issued += 1
    tell(len(pks), len(pks))
    return WorkResult(_words(issued, waits), url=reverse("orders:invoices"))


def _words(issued: int, waits: list[str]) -> str:
    said = f"{issued} invoice{'' if issued == 1 else 's'} issued."
    if not waits:
        return said
    more = f" and {len(waits) - _MOST_REASONS} more" if len(waits) > _MOST_REASONS else ""
    reasons = " ".join(reason[:110] for reason in waits[:_MOST_REASONS])
    return f"{said} Not issued: {reasons}{more}"[:300]
