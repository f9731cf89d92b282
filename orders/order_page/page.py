"""Template context of an order's page and of the job's Money panel."""

from datetime import date, datetime
from typing import Any

from django.utils import timezone

from orders.costs.earnings import earned
from orders.order import totals
from orders.order.models import Order
from orders.order_page.forms import hand_over_form, hand_over_obstacles
from orders.payments.forms import payment_form
from orders.prices.price_lists import goes_by_size, kinds_on
from production.frames.job_frames import InsideSize, inside_size
from studio.jobs.models import Job
from studio.stages import BEFORE_FRAMING, Stage


def order_page(job: Job, now: datetime) -> dict[str, Any]:
    """Return the context of the order's page. About a dozen queries, whatever its history."""
    context = _order_context(job, now)
    order: Order | None = context["order"]
    if order is None:
        return context
    invoice, accepted = context["current_invoice"], order.quotes.last()
    payments = list(
        order.payments.select_related("reversed_by", "reverses", "receipt").order_by(
            "received_on", "pk"
        )
    )
    return context | {
        "lines": order.lines.all(),
        "accepted": accepted,
        "answer": order.answers.last(),
        "payments": payments,
        "to_invoice_minor": context["sums"].total_minor
        - sum(row.amount_minor for row in payments if row.taxed_before),
        "invoices": order.invoices.select_related(
            "credits", "credited_by", "reduces"
        ).newest_first(),
        "may_change": invoice is None,
        "may_choose": invoice is None and job.stage in (*BEFORE_FRAMING, Stage.FRAMING),
        "has": (has := kinds_on(order.price_list)),
        "has_extras": bool(has & {"extra", "copy"}),
        "by_size": (by_size := goes_by_size(order.price_list)),
        "drawn": _drawn(job, order, context["today"]) if by_size and invoice is None else None,
        "earned": earned(job),
        "pieces": sum(1 for piece in job.pieces.all() if not piece.left_off_at),
        "newer_list": _newer_list(order, context["today"])
        if not job.is_closed and not accepted
        else None,
    }


def money_panel(job: Job, now: datetime) -> dict[str, Any]:
    """Return the context of the Money panel; it has the payment form only for a ready job."""
    context = _order_context(job, now)
    return context if job.stage == Stage.READY else context | {"payment_form": None}


def _order_context(job: Job, now: datetime) -> dict[str, Any]:
    today, order, obstacles = (
        timezone.localdate(now),
        totals.order_of(job),
        hand_over_obstacles(job),
    )
    context: dict[str, Any] = {
        "job": job,
        "order": order,
        "today": today,
        "hand_over_form": hand_over_form(job, obstacles),
        "obstacles": obstacles,
    }
    if order is None:
        return context | {"list_in_force": job.unit.price_lists.in_force_on(today)}
    sums = totals.sums(order)
    return context | {
        "sums": sums,
        "current_invoice": totals.current_invoice(order),
        "every_piece": totals.prices_every_piece(order),
        "may_release": bool(obstacles) and sums.balance_minor > 0,
        "payment_form": payment_form(order, today=today) if sums.balance_minor > 0 else None,
    }


def _drawn(job: Job, order: Order, today: date) -> InsideSize | None:
    """Return the size of the frame if it differs from the one priced."""
    drawn = None if job.is_closed else inside_size(job, today)
    return drawn if drawn and drawn.longest_mm != order.frame_mm else None


def _newer_list(order: Order, today: date) -> Any:
    in_force = order.unit.price_lists.in_force_on(today)
    return in_force if in_force and in_force.pk != order.price_list_id else None
