"""Handed over when it is paid or released; called off with what is kept and what goes back."""

import pytest
from django.utils import timezone

from orders.balances.debts import owed
from orders.invoices.actions import issue_invoice
from orders.order.actions import add_reduction
from orders.order.models import Order
from orders.order.totals import balance_of
from orders.order_page import actions as order_page_actions
from orders.payments.actions import pay_back, release_on_account, take_payment
from studio.jobs.models import Job
from studio.stages import ActionRefused, MovedMeanwhile, MoveRefused, Stage, missing
from tests import makers
from tests.makers import details


@pytest.fixture
def ready(unit, owner):
    return makers.job_at(Stage.READY, unit, by=owner.user)


def pay_all(order, press):
    return take_payment(
        order,
        amount_minor=balance_of(order),
        method="card",
        received_on=timezone.localdate(),
        **press(),
    )


class TestHandOver:
    def test_a_paid_piece_goes_home_by_one_event(self, ready, press):
        pay_all(ready.order, press)
        event = order_page_actions.hand_over(ready, seen=Stage.READY, how="delivered", **press())
        assert ready.stage == Stage.HANDED_OVER
        assert details(event) == "Delivered to the family."
        assert ready.events.filter(to_stage=Stage.HANDED_OVER, what="move").count() == 1

    def test_an_unpaid_one_waits_and_no_amount_is_told(self, ready, press):
        with pytest.raises(MoveRefused) as refused:
            order_page_actions.hand_over(ready, seen=Stage.READY, **press())
        assert refused.value.reasons == (
            "It is not fully paid. Take the payment, or write why it may go home unpaid.",
        )
        ready.refresh_from_db()
        assert ready.stage == Stage.READY

    def test_a_released_one_goes_home_and_stays_owed(self, ready, unit, press):
        release_on_account(ready.order, why="Friday.", **press())
        order_page_actions.hand_over(ready, seen=Stage.READY, **press())
        (debt,) = owed(unit, timezone.localdate())
        assert (debt.why, debt.balance_minor) == ("gone", 19900)

    def test_an_overpaid_one_goes_home_and_the_refund_stays_owed(self, ready, unit, press):
        pay_all(ready.order, press)
        add_reduction(ready.order, label="A chip", amount_minor=900, **press())
        order_page_actions.hand_over(ready, seen=Stage.READY, **press())
        (debt,) = owed(unit, timezone.localdate())
        assert (debt.why, debt.balance_minor) == ("back", -900)

    def test_a_job_without_a_price_waits_where_the_unit_has_prices(self, ready):
        order = ready.order
        order.lines.all().delete()
        Order.objects.filter(pk=order.pk).delete()
        job = Job.objects.get(pk=ready.pk)
        assert missing(job, Stage.HANDED_OVER) == ["This job has no price yet."]
        for price_list in job.unit.price_lists.all():
            price_list.prices.all().delete()
            price_list.delete()
        assert missing(job, Stage.HANDED_OVER) == []

    def test_the_second_of_two_people_is_told(self, ready, press):
        pay_all(ready.order, press)
        stale = Job.objects.get(pk=ready.pk)
        order_page_actions.hand_over(ready, seen=Stage.READY, **press())
        with pytest.raises(MovedMeanwhile):
            order_page_actions.hand_over(stale, seen=Stage.READY, **press())


class TestCallOff:
    @pytest.fixture
    def booked(self, unit, owner):
        makers.prices(unit)
        return makers.a_job(unit, by=owner.user)

    def call_off(self, job, press, keep_minor=0, **facts):
        details = {"seen": Stage(job.stage), "why": "They moved away.", **facts}
        return order_page_actions.call_off(job, keep_minor=keep_minor, **details, **press())

    def test_the_sitting_is_cancelled_and_nothing_is_owed(self, booked, press):
        event = self.call_off(booked, press)
        booked.refresh_from_db()
        assert booked.stage == Stage.CALLED_OFF
        assert (event.what, event.why) == ("move", "They moved away.")
        (sitting,) = booked.sittings.all()
        assert (sitting.state, sitting.cancelled_why) == ("cancelled", "They moved away.")
        order = Order.objects.get(job=booked)
        assert (balance_of(order), order.settled, order.lines.count()) == (0, True, 0)

    def test_what_is_kept_is_charged_and_the_rest_goes_back(self, booked, unit, press):
        pay_all(booked.order, press)
        issue_invoice(booked.order, **press())
        self.call_off(booked, press, keep_minor=5000)
        order = Order.objects.get(job=booked)
        assert (balance_of(order), order.settled) == (-14900, False)
        assert [line.unit_minor for line in order.lines.all()] == [5000]
        note = order.invoices.get(kind="credit")
        assert (note.total_minor, note.why) == (-19900, "They moved away.")
        pay_back(
            order,
            amount_minor=14900,
            method="transfer",
            paid_on=timezone.localdate(),
            why="Called off.",
            **press(),
        )
        assert not unit.orders.unsettled().exists()
        # A kept deposit stays taxable (Revenue & Customs Brief 13 (2018)) [src]: it can be invoiced.
        invoice = issue_invoice(order, **press())
        assert (invoice.total_minor, invoice.content["pieces"]) == (5000, [])

    def test_the_rack_is_cleared(self, unit, owner, press):
        job = makers.job_at(Stage.DRYING, unit, by=owner.user)
        assert unit.casts.with_place().count() == 2
        self.call_off(job, press)
        assert unit.casts.with_place().count() == 0

    @pytest.mark.parametrize("keep_minor", [-1, 1])
    def test_no_more_is_kept_than_was_paid(self, booked, press, keep_minor):
        with pytest.raises(ActionRefused, match=r"£0\.00 was paid"):
            self.call_off(booked, press, keep_minor=keep_minor)
        booked.refresh_from_db()
        assert booked.stage == Stage.BOOKED
        assert booked.sittings.planned().exists()

    def test_it_says_why(self, booked, press):
        with pytest.raises(ActionRefused, match="Write why"):
            self.call_off(booked, press, why=" ")
        assert booked.order.lines.exists()

    def test_the_same_key_is_one_and_another_press_is_told(self, booked, press):
        once = press()
        facts = {"seen": Stage.BOOKED, "keep_minor": 0, "why": "They moved away."}
        first = order_page_actions.call_off(booked, **facts, **once)
        events = booked.events.count()
        assert order_page_actions.call_off(booked, **facts, **once) == first
        with pytest.raises(MovedMeanwhile, match="already at “Called off”"):
            order_page_actions.call_off(booked, **facts, **press())
        assert booked.events.count() == events

    def test_a_job_without_a_price_keeps_nothing(self, unit, owner, press):
        job = makers.a_job(unit, by=owner.user)
        with pytest.raises(ActionRefused, match="nothing can be kept"):
            self.call_off(job, press, keep_minor=1)
        self.call_off(job, press)
        job.refresh_from_db()
        assert job.stage == Stage.CALLED_OFF

    @pytest.mark.parametrize("stage", [Stage.CASTING, Stage.FRAMING, Stage.READY])
    def test_at_any_time_before_the_hand_over(self, unit, owner, press, stage):
        job = makers.job_at(stage, unit, by=owner.user)
        self.call_off(job, press)
        job.refresh_from_db()
        assert job.stage == Stage.CALLED_OFF

    def test_not_after_it(self, unit, owner, press):
        job = makers.job_at(Stage.HANDED_OVER, unit, by=owner.user)
        lines = list(job.order.lines.values())
        with pytest.raises(MoveRefused):
            self.call_off(job, press)
        assert list(job.order.lines.values()) == lines
