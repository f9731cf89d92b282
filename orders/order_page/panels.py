"""The Money panel of a job, and finished pieces on Today."""

from collections.abc import Sequence
from datetime import datetime

from django.utils import timezone

from orders.order.totals import order_of
from orders.order_page.forms import hand_over_form, hand_over_obstacles
from orders.order_page.page import money_panel
from studio.accounts.models import Unit
from studio.jobs.models import Job, Piece
from studio.roles import Role
from studio.stages import Stage
from studio.web.panels import (
    NextStep,
    Panel,
    TodayItem,
    job_panel,
    piece_step,
    today_source,
)


@today_source(60)
def to_hand_over(unit: Unit, role: Role, now: datetime) -> Sequence[TodayItem]:
    """List finished pieces to hand over. Three queries."""
    today = timezone.localdate(now)
    return [
        TodayItem(
            group="families",
            title=f"Hand over to {job.family}",
            url=job.get_absolute_url(),
            detail=job.first_names,
            reference=job.reference,
            due_on=job.promised_on,
            why_late="Promised for an earlier day."
            if job.promised_on and job.promised_on < today
            else "",
        )
        for job in unit.jobs.at(Stage.READY).soonest_first().with_people()
    ]


@piece_step(30)
def way_home(piece: Piece, role: Role, now: datetime) -> NextStep | None:
    """Ready to go, or gone: nothing is left to do at the bench."""
    job = piece.job
    if job.stage == Stage.READY:
        return NextStep("It is ready to go home.", job.get_absolute_url(), "Hand it over")
    return NextStep(f"{job.stage_words}: nothing is left to do with it.") if job.is_closed else None


@job_panel(40)
def money(job: Job, role: Role, now: datetime) -> Panel | None:
    """Show price, payments and invoice to the owner, look and hand-over to helpers."""
    if role == Role.OWNER:
        return Panel("Money", "orders/order_page/_money_panel.html", money_panel(job, now), "money")
    if role != Role.HELPER:
        return None
    context = {
        "job": job,
        "order": order_of(job),
        "hand_over_form": hand_over_form(job, hand_over_obstacles(job)),
        "ready": job.stage == Stage.READY,
    }
    return Panel("Look and hand-over", "orders/order_page/_look_panel.html", context, "look")
