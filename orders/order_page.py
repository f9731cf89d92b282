"""What the owner sees of one order, on its page and in the job's Money panel."""

from datetime import date, datetime
from typing import Any

from django.utils import timezone

from orders import queries
from orders.forms import CallOffForm, HandOverForm, PayBackForm, PaymentForm
from orders.job_money import job_money
from orders.models import Order
from studio.models import Job
from studio.stages import Stage, missing


def order_page(job: Job, now: datetime) -> dict[str, Any]:
    """The whole page: about a dozen queries, however long the order's history."""
    context = _order_context(job, now)
    order: Order | None = context["order"]
    if order is None:
        return context
    standing, accepted = context["standing"], order.quotes.last()
    payments = list(
        order.payments.select_related("reversed_by", "reverses", "receipt").order_by(
            "received_on", "pk"
        )
    )
    return context | {
        "lines": order.lines.select_related("price"),
        "accepted": accepted,
        "answer": order.answers.last(),
        "payments": payments,
        "to_invoice_minor": context["sums"].total_minor
        - sum(row.amount_minor for row in payments if row.taxed_before),
        "invoices": order.invoices.select_related(
            "credits", "credited_by", "reduces"
        ).newest_first(),
        "may_change": standing is None,
        "may_choose": standing is None and job.stage in (*queries.BEFORE_FRAMING, Stage.FRAMING),
        "has": (has := queries.kinds_on(order.price_list)),
        "has_extras": bool(has & {"extra", "copy"}),
        "by_size": (by_size := queries.goes_by_size(order.price_list)),
        "drawn": _drawn(job, order, context["today"]) if by_size and standing is None else None,
        "earned": queries.earned(job),
        "pieces": job.pieces.on_the_job().count(),
        "newer_list": _newer_list(order, context["today"])
        if not job.is_closed and not accepted
        else None,
    }


def money_panel(job: Job, now: datetime) -> dict[str, Any]:
    """What the job's page shows of its money, and what to do next: only a ready one may be paid there."""
    today, money = timezone.localdate(now), job_money(job.pk)
    is_ready = job.stage == Stage.READY
    order = queries.order_of(job) if is_ready else None
    owes = money is not None and money.sums.balance_minor > 0
    return {
        "job": job,
        "money": money,
        "today": today,
        "list_in_force": None if money else job.unit.price_lists.in_force_on(today),
        "hand_over_form": hand_over_form(job),
        "obstacles": missing(job, Stage.HANDED_OVER) if is_ready else [],
        "payment_form": payment_form(order, today=today) if order and owes else None,
    }


def _order_context(job: Job, now: datetime) -> dict[str, Any]:
    today = timezone.localdate(now)
    order = queries.order_of(job)
    context: dict[str, Any] = {
        "job": job,
        "order": order,
        "today": today,
        "hand_over_form": hand_over_form(job),
        "obstacles": missing(job, Stage.HANDED_OVER) if job.stage == Stage.READY else [],
    }
    if order is None:
        return context | {"list_in_force": job.unit.price_lists.in_force_on(today)}
    sums = queries.sums(order)
    return context | {
        "sums": sums,
        "standing": queries.standing_invoice(order),
        "every_piece": queries.prices_every_piece(order),
        "may_release": bool(context["obstacles"]) and sums.balance_minor > 0,
        "payment_form": payment_form(order, sums=sums, today=today)
        if sums.balance_minor > 0
        else None,
    }


def payment_form(
    order: Order, data: Any = None, *, today: date, sums: queries.Sums | None = None
) -> PaymentForm:
    """Begins with the deposit while that is asked for, then with the whole balance."""
    sums = sums or queries.sums(order)
    asked = sums.deposit_left_minor if order.job.stage == Stage.BOOKED else 0
    return PaymentForm(
        order.unit.currency,
        data,
        amount_minor=asked or max(0, sums.balance_minor),
        balance_minor=sums.balance_minor,
        today=today,
    )


def pay_back_form(order: Order, data: Any = None, *, today: date) -> PayBackForm:
    owed_minor = max(0, -queries.balance_of(order))
    return PayBackForm(order.unit.currency, data, amount_minor=owed_minor, today=today)


def call_off_form(job: Job, data: Any = None) -> CallOffForm:
    order = queries.order_of(job)
    paid_minor = queries.sums(order).paid_minor if order else 0
    return CallOffForm(job.unit.currency, data, seen=job.stage, paid_minor=paid_minor)


def hand_over_form(job: Job) -> HandOverForm | None:
    if job.stage != Stage.READY or missing(job, Stage.HANDED_OVER):
        return None
    return HandOverForm(initial={"seen": job.stage})


def _drawn(job: Job, order: Order, today: date) -> queries.Drawn | None:
    """The drawn frame, where the order is not priced by it yet."""
    drawn = None if job.is_closed else queries.drawn_frame(job, today)
    return drawn if drawn and drawn.longest_mm != order.frame_mm else None


def _newer_list(order: Order, today: date) -> Any:
    in_force = order.unit.price_lists.in_force_on(today)
    return in_force if in_force and in_force.pk != order.price_list_id else None
