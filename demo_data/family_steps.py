"""Steps of a demo job that concern its family: deposit, private link, choice of frame, promise."""

from datetime import datetime, timedelta

from demo_data.files import pence
from demo_data.lives import Life, Steps
from orders.family_page.private_links import make_link
from orders.order.actions import add_extra, add_reduction, choose_look
from orders.order.totals import balance_of, sums
from orders.prices.models import Price
from orders.quotes.actions import accept_quote
from studio.jobs import actions as jobs_actions

# So that a quarter is still covered when the family chooses felt and limed oak.
_DEPOSIT_OF_A_DEARER_LOOK = 7_00
_ROUND = 5_00


def deposit(life: Life) -> Steps:
    """Agree the extras and pay the deposit on the morning after the booking; some pay more later."""
    booked_on = life.clock.local_day(life.booked_at())
    at = yield life.clock.on(booked_on + timedelta(days=1), "09:05")
    _extras(life, at)
    if not life.row.paid:
        return
    _accept(life, at)
    at = yield at + timedelta(minutes=15)
    order = life.begun.order
    asked = sums(order).deposit_minor + _DEPOSIT_OF_A_DEARER_LOOK
    life.setting.take(order, asked + -asked % _ROUND, "transfer", at, life.key("deposit"))
    if life.row.paid in ("half", "all"):
        at = yield life.after(5, "13:10")
        order = life.begun.order
        left = balance_of(order)
        amount = left if life.row.paid == "all" else left // 200 * 100
        life.setting.take(order, amount, "transfer", at, life.key("second payment"))


def _extras(life: Life, at: datetime) -> None:
    """Add the extras and reductions agreed by phone."""
    order = life.begun.order
    if life.row.extra:
        add_extra(
            order,
            price=_price(life, Price.Kind.EXTRA, life.row.extra),
            quantity=1,
            by=life.owner,
            at=at,
            key=life.key("extra"),
        )
    if told := life.row.story.get("reduction"):
        add_reduction(
            order,
            label=told["label"],
            amount_minor=pence(told["amount"]),
            by=life.owner,
            at=at,
            key=life.key("reduction"),
        )


def _accept(life: Life, at: datetime) -> None:
    """Accept the quote, because a deposit is paid only after that."""
    if sums(life.begun.order).total_minor > 0:
        accept_quote(
            life.begun.order, method="phone", by=life.owner, at=at, key=life.key("accepted")
        )


def link(life: Life) -> Steps:
    if life.row.followed:
        at = yield life.after(0, "20:30")
        make_link(life.begun, by=life.owner, at=at)


def look(life: Life) -> Steps:
    """Choose the frame; the family does it itself if it has a private link."""
    if not life.row.backing:
        return
    at = yield _chosen_at(life)
    order = life.begun.order
    choose_look(
        order,
        backing=_price(life, Price.Kind.BACKING, life.row.backing),
        finish=_price(life, Price.Kind.FINISH, life.row.finish),
        seen_version=order.frame.version,
        by=None if life.row.followed else life.owner,
        at=at,
        key=life.key("look"),
    )


def _chosen_at(life: Life) -> datetime:
    """Time of the choice: two evenings after the sitting, or before the deposit if that is still ahead."""
    evening = life.after(2, "21:00")
    if evening <= life.clock.now or life.row.followed:
        return evening
    booked_on = life.clock.local_day(life.booked_at())
    return life.clock.on(booked_on + timedelta(days=1), "09:00")


def _price(life: Life, kind: Price.Kind, label: str) -> Price:
    return life.begun.order.price_list.prices.get(kind=kind, label=label)


def promise(life: Life) -> Steps:
    if told := life.row.story.get("promise"):
        at = yield life.clock.on(life.clock.day(-told["ago"]), "17:15")
        job = life.begun
        if job.promised_on is None:
            raise RuntimeError(f"{life.row.job} has no promise to change.")
        jobs_actions.promise(
            job,
            promised_on=job.promised_on + timedelta(days=told["days"]),
            why=told["why"],
            by=life.owner,
            at=at,
            key=life.key("promise"),
        )


ALL = (deposit, link, look, promise)
