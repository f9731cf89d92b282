"""The two ends of a job: hand-over, or calling it off."""

from datetime import datetime
from uuid import UUID, uuid5

from bookings.diary.actions import cancel_sitting
from orders.invoices.actions import credit_invoice
from orders.order import totals
from orders.order.models import KEPT_LABEL, Order
from orders.order.settlement import format_amount, require_reason, settle
from orders.vouchers.actions import give_back
from production.bench.actions import clear_bench
from production.bench.framing import use_packaging
from studio.accounts.models import User
from studio.jobs.job_action import JobAction, job_action, the_event
from studio.jobs.models import Job, JobEvent
from studio.stages import ActionRefused, MovedMeanwhile, Stage


@job_action(the_event)
def hand_over(
    act: JobAction,
    job: Job,
    *,
    seen: Stage,
    how: str = "collected",
    by: User,
    at: datetime,
    key: UUID,
) -> JobEvent:
    """Hand the finished piece over; `how` is "collected" or "delivered".

    Raises MovedMeanwhile, and MoveRefused while it has no price yet or is neither paid nor
    released on account.
    """
    event = act.move(seen=seen, to=Stage.HANDED_OVER, reason=how)
    use_packaging(job, by=by, at=at, key=key)
    return event


@job_action(the_event)
def call_off(
    act: JobAction,
    job: Job,
    *,
    seen: Stage,
    keep_minor: int,
    why: str,
    by: User,
    at: datetime,
    key: UUID,
) -> JobEvent:
    """Call the job off: retain `keep_minor` of the payments and owe the rest back.

    Payments by voucher return to the voucher unless `keep_minor` exceeds the money received. The
    current invoice is credited, the planned sitting cancelled and the bench cleared. Raises
    MovedMeanwhile; ActionRefused without a reason or for more than was paid.
    """
    locked = act.job
    if locked.stage != seen:
        raise MovedMeanwhile(
            f"This job is already at “{locked.stage_words}”; "
            f"you were looking at it at “{seen.label}”."
        )
    why = require_reason(why, "Write why the job is called off.")
    if order := Order.objects.filter(job=locked).first():
        _keep(order, keep_minor, why, by=by, at=at, key=key)
    elif keep_minor:
        raise ActionRefused("Nothing was paid on this job, so nothing can be kept.")
    for sitting in locked.sittings.planned():
        cancel_sitting(sitting, why=why, by=by, at=at, key=uuid5(key, "sitting"))
    clear_bench(locked, why=why, by=by, at=at, key=uuid5(key, "bench"))
    return act.move(seen=seen, to=Stage.CALLED_OFF, why=why)


def _keep(order: Order, keep_minor: int, why: str, *, by: User, at: datetime, key: UUID) -> None:
    paid_minor = totals.sums(order).paid_minor
    if not 0 <= keep_minor <= max(paid_minor, 0):
        raise ActionRefused(f"{format_amount(order, paid_minor)} was paid: keep at most that.")
    if invoice := totals.current_invoice(order):
        credit_invoice(invoice, why=why, by=by, at=at, key=uuid5(key, "credit"))
    give_back(order, kept_minor=keep_minor, why=why, by=by, at=at, key=uuid5(key, "vouchers"))
    order.lines.all().delete()
    if keep_minor:
        order.lines.create(label=KEPT_LABEL, unit_minor=keep_minor)
    settle(order)
