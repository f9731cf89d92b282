"""Batches of invoices: the orders to invoice, and the work that issues them."""

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any, cast

from django.db.models import F
from django.urls import reverse
from django.utils import timezone

from orders.invoices.actions import issue_invoice
from orders.invoices.archive import archived_pdf
from orders.order.querysets import OrderQuerySet
from orders.prices import vat
from studio.roles import Role
from studio.stages import ActionRefused, Refused, Stage
from studio.work.models import Work
from studio.work.queue import ReportProgress, WorkResult, work_kind

if TYPE_CHECKING:
    from orders.order.models import Order
    from studio.accounts.models import Unit

GONE_LATELY = timedelta(days=90)

MOST_IN_A_BATCH = 2000


def to_invoice(unit: "Unit", today: date) -> OrderQuerySet:
    """Filter orders to invoice in a batch: ready or handed over lately, charged, and not invoiced.

    Adds `total`, `paid`, `balance` and `taxed_before` (payments by vouchers taxed when sold), in
    minor units.
    """
    # The type stubs do not know the annotations.
    orders = cast(Any, unit.orders.with_balance().with_invoice().with_taxed_before())
    found: OrderQuerySet = orders.filter(invoiced_on=None, total__gt=F("taxed_before")).filter(
        job__stage__in=(Stage.READY, Stage.HANDED_OVER),
        job__stage_since__date__gt=today - GONE_LATELY,
    )
    return found.select_related("job__family").order_by("job__stage_since", "pk")[:MOST_IN_A_BATCH]


def charged_lines(order: "Order") -> list[tuple[str, int]]:
    """List each charged line with its amount less its share of the reductions, in minor units. One
    query.
    """
    lines = [line for line in order.lines.all() if line.amount_minor]
    parts = vat.charged([line.amount_minor for line in lines])
    return [
        (line.label, part) for line, part in zip(lines, parts, strict=True) if line.amount_minor > 0
    ]


ISSUE_INVOICES = "issue_invoices"

_MOST_REASONS = 2


@work_kind(ISSUE_INVOICES, Role.OWNER)
def issue_invoices(work: Work, tell: ReportProgress) -> WorkResult:
    """Issue and archive an invoice for each order in `facts`, one transaction each.

    If the worker is killed, only whole invoices exist, and the next run continues after them.
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
            waits.append(f"{order.job.display_reference}: {refused.reasons[0]}")
            continue
        archived_pdf(invoice, at=timezone.now())
        issued += 1
    tell(len(pks), len(pks))
    return WorkResult(_result_text(issued, waits), url=reverse("orders:invoices"))


def _result_text(issued: int, waits: list[str]) -> str:
    text = f"{issued} invoice{'' if issued == 1 else 's'} issued."
    if not waits:
        return text
    more = f" and {len(waits) - _MOST_REASONS} more" if len(waits) > _MOST_REASONS else ""
    reasons = " ".join(reason[:110] for reason in waits[:_MOST_REASONS])
    return f"{text} Not issued: {reasons}{more}"[:300]
