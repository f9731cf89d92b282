"""What orders show on Today and on a job's page."""

from collections.abc import Collection, Sequence
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from django.urls import reverse
from django.utils import timezone

from orders import queries
from orders.models import FamilyAnswer
from orders.order_page import hand_over_form, money_panel
from studio import units
from studio.heads import heads, read_heads
from studio.kept import Kept, Row, once, question
from studio.looks import look_source
from studio.models import Family, Job, Piece, Role, Unit
from studio.panels import (
    NextStep,
    Panel,
    TodayItem,
    family_panel,
    job_panel,
    piece_step,
    today_source,
)
from studio.stages import Stage
from studio.watched import watched

if TYPE_CHECKING:
    from django.db.models import QuerySet


@look_source
def looks(unit: Unit, jobs: Collection[int]) -> dict[int, tuple[str, str]]:
    """Finish and backing as the family or the owner chose them."""
    rows = unit.orders.filter(job__in=jobs).values_list("job", "finish__label", "backing__label")
    return {job: (finish or "", backing or "") for job, finish, backing in rows}


ASK_FOR_DEPOSIT_BEFORE = timedelta(days=7)


@today_source(60)
def to_hand_over(unit: Unit, role: Role, now: datetime) -> Sequence[TodayItem]:
    """The finished pieces that wait for their family. One query."""
    return _to_hand_over.of(unit.pk, (_ready.raw(unit.pk), timezone.localdate(now)))


@question
def _ready(unit_pk: int) -> "QuerySet[Job, Row]":
    return heads(Job.objects.filter(unit=unit_pk).at(Stage.READY).soonest_first())


def _hand_over_items(known: tuple[list[Row], date]) -> list[TodayItem]:
    rows, today = known
    return [
        TodayItem(
            group="families",
            title=f"Hand over to {job.family}",
            url=job.url,
            who=job.first_names,
            reference=job.reference,
            due_on=job.promised_on,
            why_late="Promised for an earlier day."
            if job.promised_on and job.promised_on < today
            else "",
        )
        for job in read_heads(_ready.read(rows))
    ]


@today_source(65)
def answers(unit: Unit, role: Role, now: datetime) -> Sequence[TodayItem]:
    """What families answered to a price on their own pages; for the owner alone. One query."""
    if role != Role.OWNER:
        return ()
    return [_answer_item(*row) for row in _answers(unit.pk)]


@question
def _answers(unit_pk: int) -> "QuerySet[FamilyAnswer, Row]":
    new = FamilyAnswer.objects.filter(unit=unit_pk, noted_at=None).order_by("answered_at", "pk")
    return new.values_list(
        "order__job__reference", "order__job__family__name", "quote", "words", "total_minor"
    )


@once
def _answer_item(
    reference: str, family: str, quote: int | None, words: str, total_minor: int
) -> TodayItem:
    no = f"Says no to the price: {words}" if words else "Says no to the price"
    return TodayItem(
        group="families",
        title="Has ordered at the price" if quote else no,
        url=reverse("orders:order", args=[reference]),
        who=family,
        reference=reference,
        amount_minor=total_minor,
    )


@today_source(70)
def owed(unit: Unit, role: Role, now: datetime) -> Sequence[TodayItem]:
    """What to ask families for, and what to give back; for the owner alone. One query."""
    if role != Role.OWNER:
        return ()
    return tuple(map(_owed_item, queries.owed(unit, timezone.localdate(now))))


@once
def _owed_item(debt: queries.Debt) -> TodayItem:
    return TodayItem(
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
def deposits(unit: Unit, role: Role, now: datetime) -> Sequence[TodayItem]:
    """Deposits that are not there a week before the sitting; for the owner alone. One query."""
    if role != Role.OWNER:
        return ()
    before = now + ASK_FOR_DEPOSIT_BEFORE + timedelta(days=unit.deposit_days)
    today = timezone.localdate(now)
    return [
        _deposit_item(each, timezone.localdate(each.sits_at), late=each.due_on < today)
        for each in queries.deposits_before(unit, before)
    ]


@once
def _deposit_item(waiting: queries.Deposit, sits_on: date, *, late: bool) -> TodayItem:
    return TodayItem(
        group="owed",
        title=f"Deposit before the sitting on {units.day(sits_on)}",
        url=reverse("orders:order", args=[waiting.reference]),
        who=waiting.family,
        reference=waiting.reference,
        due_on=waiting.due_on,
        amount_minor=waiting.deposit_left_minor,
        why_late=f"It was due on {units.day(waiting.due_on)}." if late else "",
    )


@today_source(72)
def near_the_threshold(unit: Unit, role: Role, now: datetime) -> Sequence[TodayItem]:
    """Twelve months of turnover that come near the sum at which one must register; the owner's."""
    if role != Role.OWNER:
        return ()
    percent = _near_threshold(unit.pk, timezone.localdate(now))
    if percent is None:
        return ()
    title = f"Turnover is at {percent} % of the sum at which you must register"
    return [TodayItem(group="owed", title=title, url=reverse("orders:turnover"))]


@watched
def _near_threshold(unit_pk: int, today: date) -> int | None:
    return queries.near_threshold(Unit.objects.get(pk=unit_pk), today)


@family_panel(30)
def account_of_family(family: Family, role: Role, now: datetime) -> Panel | None:
    """What the family was invoiced and paid, in one figure; the owner's."""
    if role != Role.OWNER:
        return None
    context = {"family": family, "account": queries.account_of(family)}
    return Panel("Account", "orders/_account_panel.html", context, "account")


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
        return Panel("Money", "orders/_money_panel.html", money_panel(job, now), "money")
    if role != Role.HELPER:
        return None
    context = {
        "job": job,
        "order": queries.order_of(job),
        "hand_over_form": hand_over_form(job),
        "ready": job.stage == Stage.READY,
    }
    return Panel("Look and hand-over", "orders/_look_panel.html", context, "look")


_to_hand_over = Kept(_hand_over_items)
