"""What orders show on Today and on a job's page."""

from collections.abc import Iterator
from datetime import datetime, timedelta

from django.urls import reverse
from django.utils import timezone

from orders import queries
from orders.order_page import hand_over_form, order_panel
from studio import units
from studio.models import Job, Piece, Role, Unit
from studio.panels import NextStep, Panel, TodayItem, job_panel, piece_step, today_source
from studio.stages import Stage
from studio.words import name_events

name_events(
    add_extra="Extra added",
    add_reduction="Price reduced",
    choose_look="Backing and finish chosen",
    credit_invoice="Invoice credited",
    drop_line="Line taken off the order",
    issue_invoice="Invoice issued",
    make_link="Family’s link made",
    pay_back="Paid back",
    price_anew="Priced anew",
    price_job="Priced",
    release_on_account="Released unpaid",
    reverse_payment="Payment reversed",
    revoke_link="Family’s link revoked",
    take_payment="Payment taken",
)


ASK_FOR_DEPOSIT_BEFORE = timedelta(days=7)


@today_source(60)
def to_hand_over(unit: Unit, role: Role, now: datetime) -> Iterator[TodayItem]:
    """The finished pieces that wait for their family."""
    today = timezone.localdate(now)
    for job in unit.jobs.at(Stage.READY).soonest_first().with_people():
        late = job.promised_on is not None and job.promised_on < today
        yield TodayItem(
            group="families",
            title=f"Hand over to {job.family.name}",
            url=job.get_absolute_url(),
            who=job.first_names,
            reference=job.reference,
            due_on=job.promised_on,
            why_late="Promised for an earlier day." if late else "",
        )


@today_source(70)
def owed(unit: Unit, role: Role, now: datetime) -> Iterator[TodayItem]:
    """What to ask families for, and what to give back; for the owner alone."""
    if role != Role.OWNER:
        return
    for debt in queries.owed(unit, timezone.localdate(now)):
        yield TodayItem(
            group="owed",
            title=debt.words,
            url=reverse("orders:order", args=[debt.reference]),
            who=debt.family,
            reference=debt.reference,
            due_on=debt.since,
            amount_minor=debt.balance_minor,
            why_late=f"Invoiced {debt.days} days ago." if debt.is_late else "",
        )


@today_source(71)
def deposits(unit: Unit, role: Role, now: datetime) -> Iterator[TodayItem]:
    """Deposits that are not there a week before the sitting; for the owner alone."""
    if role != Role.OWNER:
        return
    for waiting in queries.deposits_before(unit, now + ASK_FOR_DEPOSIT_BEFORE):
        day = timezone.localdate(waiting.sits_at)
        yield TodayItem(
            group="owed",
            title=f"Deposit before the sitting on {units.day(day)}",
            url=reverse("orders:order", args=[waiting.reference]),
            who=waiting.family,
            reference=waiting.reference,
            due_on=day,
            amount_minor=waiting.deposit_left_minor,
        )


@piece_step(30)
def way_home(piece: Piece, role: Role, now: datetime) -> NextStep | None:
    """Ready to go, or gone: nothing is left to do at the bench."""
    job = piece.job
    if job.stage == Stage.READY:
        return NextStep("It is ready to go home.", job.get_absolute_url(), "Hand it over")
    return NextStep(f"{job.stage_words}: nothing is left to do with it.") if job.is_closed else None


@job_panel(40)
def money(job: Job, role: Role, now: datetime) -> Panel | None:
    """The owner's view of price, payments and invoice; helpers see the look and the way home."""
    if role == Role.OWNER:
        context = order_panel(job, now)
        return Panel("Money", "orders/_money_panel.html", context, "money")
    if role != Role.HELPER:
        return None
    context = {
        "job": job,
        "order": queries.order_of(job),
        "hand_over_form": hand_over_form(job),
        "ready": job.stage == Stage.READY,
    }
    return Panel("Look and hand-over", "orders/_look_panel.html", context, "look")
