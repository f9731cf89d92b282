"""The gate from ready to handed over: paid, or released on account."""

from orders.order.models import Order
from orders.order.totals import balance_of
from studio.jobs.models import Job
from studio.stages import Stage, gate


@gate(Stage.READY, Stage.HANDED_OVER)
def paid_or_released(job: Job) -> str | None:
    """Require that the order is paid or released; without an amount, because helpers read it."""
    order = Order.objects.filter(job=job).first()
    if order is None:
        # A unit without prices on this site collects its money elsewhere.
        return "This job has no price yet." if job.unit.price_lists.exists() else None
    if order.released_at or balance_of(order) <= 0:
        return None
    return "It is not fully paid. Take the payment, or write why it may go home unpaid."
