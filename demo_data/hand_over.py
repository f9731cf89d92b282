"""How a demo job ends: paid and handed over, or called off."""

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from demo_data.files import pence
from orders.order.totals import balance_of
from orders.order_page import actions as order_page_actions
from orders.payments.actions import pay_back, release_on_account, reverse_payment
from studio.stages import Stage

if TYPE_CHECKING:
    from demo_data.lives import Life, Steps

_MINUTE = timedelta(minutes=1)
_DAY = timedelta(days=1)


def hand_over(life: "Life") -> "Steps":
    """Pay and hand over a finished job; one on account is paid later."""
    spread = life.setting.spread(life.row.job)
    ready_on = life.clock.local_day(life.begun.stage_since)
    day = life.clock.working(ready_on + timedelta(days=2 + spread % 3), 1)
    at = yield life.clock.on(day, ("10:30", "16:20", "17:40")[spread % 3])
    yield from _pay_at_the_door(life, at)
    at = yield at + 5 * _MINUTE
    how = "delivered" if spread % 4 == 0 else "collected"
    order_page_actions.hand_over(
        life.begun, seen=Stage.READY, how=how, by=life.owner, at=at, key=life.key("home")
    )
    if account := life.row.story.get("account"):
        at = yield at + account["days"] * _DAY
        order = life.begun.order
        key = life.key("account paid")
        life.setting.take(order, balance_of(order), "transfer", at, key)


def _pay_at_the_door(life: "Life", at: datetime) -> "Steps":
    order, story = life.begun.order, life.row.story
    if account := story.get("account"):
        key = life.key("account")
        release_on_account(order, why=account["why"], by=life.owner, at=at, key=key)
        return
    if slip := story.get("slip"):
        wrong = life.setting.take(order, pence(slip["amount"]), "card", at, life.key("slip"))
        at = yield at + _MINUTE
        key = life.key("slip reversed")
        reverse_payment(wrong, why=slip["why"], by=life.owner, at=at, key=key)
    if left := balance_of(order):
        method = ("card", "card", "cash")[life.setting.spread(life.row.job) % 3]
        life.setting.take(order, left, method, at, life.key("at the door"))


def call_off_at(life: "Life") -> datetime:
    """Time at which the job's story calls it off."""
    return life.after(life.row.story["call_off"]["after"], "17:30")


def call_off(life: "Life") -> "Steps":
    """Call the job off and pay back what was paid too much."""
    told = life.row.story["call_off"]
    at = yield call_off_at(life)
    order_page_actions.call_off(
        life.begun,
        seen=Stage(life.begun.stage),
        keep_minor=pence(told["keep"]),
        why=told["why"],
        by=life.owner,
        at=at,
        key=life.key("call off"),
    )
    at = yield at + 15 * _MINUTE
    if (over := -balance_of(life.begun.order)) > 0:
        pay_back(
            life.begun.order,
            amount_minor=over,
            method="transfer",
            paid_on=life.clock.local_day(at),
            why="Called off: paid back.",
            by=life.owner,
            at=at,
            key=life.key("paid back"),
        )
