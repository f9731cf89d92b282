"""Money in, money back: nothing is edited, nothing above the balance, every slip has its mirror."""

import uuid
from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from orders.balances import debts
from orders.invoices.actions import credit_invoice, issue_invoice
from orders.invoices.models import Invoice
from orders.order.actions import add_reduction, drop_line
from orders.order.totals import balance_of, deposit_of
from orders.payments.actions import pay_back, release_on_account, reverse_payment, take_payment
from orders.payments.models import Payment
from orders.payments.received import received
from studio.jobs.actions import leave_off_piece
from studio.jobs.models import Job
from studio.stages import ActionRefused, MoveRefused, Refused, Stage
from tests import makers

TODAY = timezone.localdate


def pay(order, amount_minor, press, **facts):
    details = {"method": "card", "received_on": TODAY(), **facts}
    return take_payment(order, amount_minor=amount_minor, **details, **press())


class TestTakePayment:
    def test_it_lowers_the_balance_and_the_last_one_settles(self, order, press):
        pay(order, 8100, press, method="cash", received_on=TODAY() - timedelta(days=3))
        order.refresh_from_db()
        assert (balance_of(order), order.settled) == (24300, False)
        pay(order, 24300, press)
        order.refresh_from_db()
        assert (balance_of(order), order.settled) == (0, True)
        assert order.job.events.filter(what="take_payment").count() == 2

    @pytest.mark.parametrize(
        ("amount_minor", "words"),
        [(0, "above zero"), (-1, "above zero"), (32401, "£324.00 is left to pay")],
    )
    def test_nothing_and_more_than_the_balance_are_refused(self, order, press, amount_minor, words):
        with pytest.raises(ActionRefused, match=words):
            pay(order, amount_minor, press)
        assert not order.payments.exists()

    def test_a_paid_order_takes_no_more(self, order, press):
        pay(order, 32400, press)
        with pytest.raises(ActionRefused, match="Nothing is left to pay"):
            pay(order, 1, press)

    def test_they_have_really_paid_more(self, owner, order, press):
        """Asked first, taken on the second press: the rest is owed back."""
        url = reverse("orders:take_payment", args=[order.job.reference])
        facts = {
            "key": uuid.uuid4(),
            "amount_minor": "400.00",
            "method": "transfer",
            "received_on": TODAY().isoformat(),
        }
        asked = owner.post(url, facts)
        assert asked.status_code == 409
        assert "really paid more" in asked.content.decode()
        assert not order.payments.exists()
        owner.post(url, facts | {"above": "on"})
        assert balance_of(order) == 32400 - 40000

    def test_a_day_to_come_is_refused_and_today_is_not(self, order, press):
        with pytest.raises(ActionRefused, match="still to come"):
            pay(order, 100, press, received_on=TODAY() + timedelta(days=1))
        pay(order, 100, press)

    def test_a_slip_in_the_year_is_refused(self, order, press):
        with pytest.raises(ActionRefused, match="check the year"):
            pay(order, 100, press, received_on=date(1926, 11, 1))

    def test_the_same_key_is_one_payment(self, order, press):
        once = press()
        facts = {"amount_minor": 100, "method": "card", "received_on": TODAY()}
        first = take_payment(order, **facts, **once)
        assert take_payment(order, **facts, **once) == first
        assert order.payments.count() == 1

    def test_a_balance_is_taken_after_the_hand_over(self, order, press):
        Job.objects.filter(pk=order.job.pk).update(stage=Stage.HANDED_OVER)
        pay(order, 32400, press)
        order.refresh_from_db()
        assert order.settled

    def test_the_event_tells_helpers_no_amount(self, order, press):
        pay(order, 8100, press)
        assert order.job.events.get(what="take_payment").why == ""


class TestReverse:
    def test_a_mirror_row_with_the_reason_takes_it_out(self, order, press):
        payment = pay(order, 8100, press)
        mirror = reverse_payment(payment, why="The card failed.", **press())
        assert (mirror.amount_minor, mirror.reverses, mirror.why) == (
            -8100,
            payment,
            "The card failed.",
        )
        assert balance_of(order) == 32400
        assert received(order) == []

    def test_a_settled_order_is_owed_again(self, order, press):
        payment = pay(order, 32400, press)
        reverse_payment(payment, why="Bounced.", **press())
        order.refresh_from_db()
        assert not order.settled

    def test_not_twice_not_of_a_reversal_not_without_a_reason(self, order, press):
        payment = pay(order, 100, press)
        with pytest.raises(ActionRefused, match="Write why"):
            reverse_payment(payment, why=" ", **press())
        mirror = reverse_payment(payment, why="Slip.", **press())
        with pytest.raises(ActionRefused, match="reversed already"):
            reverse_payment(payment, why="Again.", **press())
        with pytest.raises(ActionRefused, match="reverses another one"):
            reverse_payment(mirror, why="Back.", **press())
        assert order.payments.count() == 2


class TestPayBack:
    @pytest.fixture
    def overpaid(self, order, press):
        """Paid in full, then one of the three pieces is left off: £125.00 go back."""
        pay(order, 32400, press)
        leave_off_piece(order.job.pieces.first(), why="Not wanted.", **press())
        order.refresh_from_db()
        assert (balance_of(order), order.settled) == (-12500, False)
        return order

    def back(self, order, press, amount_minor=12500, **facts):
        details = {"method": "transfer", "paid_on": TODAY(), "why": "One piece less.", **facts}
        return pay_back(order, amount_minor=amount_minor, **details, **press())

    def test_it_settles(self, overpaid, press):
        self.back(overpaid, press)
        overpaid.refresh_from_db()
        assert (balance_of(overpaid), overpaid.settled) == (0, True)

    @pytest.mark.parametrize("amount_minor", [0, -1, 12501])
    def test_no_more_than_is_owed(self, overpaid, press, amount_minor):
        with pytest.raises(ActionRefused, match=r"£125\.00 is owed to the family"):
            self.back(overpaid, press, amount_minor)

    def test_it_says_what_for_and_when(self, overpaid, press):
        with pytest.raises(ActionRefused, match="what the money is paid back for"):
            self.back(overpaid, press, why="")
        with pytest.raises(ActionRefused, match="still to come"):
            self.back(overpaid, press, paid_on=TODAY() + timedelta(days=1))

    def test_not_from_an_order_that_is_not_overpaid(self, order, press):
        with pytest.raises(ActionRefused, match="has not paid more"):
            self.back(order, press, 1)


class TestRelease:
    def test_it_says_why_and_is_kept(self, order, press):
        release_on_account(order, why="She pays on Friday.", **press())
        order.refresh_from_db()
        assert order.released_at
        assert order.released_why == "She pays on Friday."

    def test_not_without_reason_twice_or_where_nothing_is_owed(self, order, press):
        with pytest.raises(ActionRefused, match="Write why"):
            release_on_account(order, why="", **press())
        release_on_account(order, why="Friday.", **press())
        with pytest.raises(ActionRefused, match="released already"):
            release_on_account(order, why="Friday.", **press())

    def test_a_paid_one_needs_none(self, order, press):
        pay(order, 32400, press)
        with pytest.raises(ActionRefused, match="may go home as it is"):
            release_on_account(order, why="Friday.", **press())

    def test_an_ended_job_is_told(self, order, press):
        Job.objects.filter(pk=order.job.pk).update(stage=Stage.CALLED_OFF)
        with pytest.raises(MoveRefused, match="no longer changes"):
            release_on_account(order, why="Friday.", **press())


class TestTheBooks:
    def test_a_row_is_never_edited_or_deleted(self, order, press):
        payment = pay(order, 100, press)
        payment.amount_minor = 1
        with pytest.raises(TypeError, match="reverse it"):
            payment.save()
        with pytest.raises(TypeError, match="reverse it"):
            payment.delete()

    def test_the_database_refuses_a_zero_and_money_back_without_a_reason(self, order, by):
        for amount_minor in (0, -5):
            row = Payment(
                unit=order.unit,
                order=order,
                amount_minor=amount_minor,
                method="cash",
                received_on=TODAY(),
                by=by,
            )
            with pytest.raises(IntegrityError), transaction.atomic():
                row.save()


STEPS = st.lists(
    st.one_of(
        st.tuples(st.just("pay"), st.integers(-10, 40000)),
        st.tuples(st.just("reverse"), st.integers(0, 5)),
        st.tuples(st.just("back"), st.integers(-10, 40000)),
        st.tuples(st.just("reduce"), st.integers(-10, 40000)),
        st.tuples(st.just("drop"), st.integers(0, 5)),
        st.tuples(st.just("invoice"), st.just(0)),
        st.tuples(st.just("credit"), st.integers(0, 5)),
    ),
    max_size=14,
)


def take_step(order, press, what, number):
    """One thing an owner may press; refusals are part of the day."""

    def one_of(rows):
        rows = list(rows)
        return rows[number % len(rows)] if rows else None

    def on(row, action, **facts):
        return row and action(row, **facts, **press())

    back = {"method": "cash", "paid_on": TODAY(), "why": "Too much."}
    return {
        "pay": lambda: pay(order, number, press),
        "reverse": lambda: on(one_of(order.payments.all()), reverse_payment, why="Slip."),
        "back": lambda: on(order, pay_back, amount_minor=number, **back),
        "reduce": lambda: on(order, add_reduction, label="Gift", amount_minor=number),
        "drop": lambda: on(order, drop_line, line_pk=getattr(one_of(order.lines.all()), "pk", 0)),
        "invoice": lambda: on(order, issue_invoice),
        "credit": lambda: on(one_of(order.invoices.all()), credit_invoice, why="Wrong."),
    }[what]()


@settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(steps=STEPS)
def test_the_books_balance_whatever_is_pressed(order, press, steps):
    """Against a ledger kept by hand; rolled back after each example."""
    with transaction.atomic():
        for what, number in steps:
            try:
                take_step(order, press, what, number)
            except Refused:
                continue
        check_the_books(order)
        transaction.set_rollback(True)


def check_the_books(order):
    order.refresh_from_db()
    paid = sum(payment.amount_minor for payment in order.payments.all())
    total = sum(line.amount_minor for line in order.lines.all())
    assert balance_of(order) == total - paid
    assert order.settled == (total == paid)
    assert sum(r.amount_minor for r in received(order)) == paid
    standing = [i for i in order.invoices.all() if i.kind == "invoice" and not credited(i)]
    assert sum(i.total_minor for i in order.invoices.all()) == sum(i.total_minor for i in standing)
    assert len(standing) <= 1
    if standing:
        assert standing[0].total_minor == total
    for prefix in ("INV-", "CRN-"):
        ours = order.invoices.filter(number__startswith=prefix).order_by("pk")
        numbers = [invoice.number for invoice in ours]
        assert numbers == [f"{prefix}{n:04}" for n in range(1, len(numbers) + 1)]


def credited(invoice):
    return Invoice.objects.filter(credits=invoice).exists()


def test_a_late_month_counts_its_slips_out(unit, order, press):
    pay(order, 20000, press, received_on=TODAY())
    slip = pay(order, 12400, press, received_on=TODAY())
    reverse_payment(slip, why="Typed twice.", **press())
    takings = debts.takings(unit, TODAY())
    assert (takings.in_minor, takings.back_minor, takings.payments) == (20000, 0, 1)


def test_an_old_payment_that_bounces_goes_back_this_month(unit, order, press):
    last_month = TODAY().replace(day=1) - timedelta(days=1)
    old = pay(order, 20000, press, received_on=last_month)
    reverse_payment(old, why="Bounced.", **press())
    now, before = debts.takings(unit, TODAY()), debts.takings(unit, last_month)
    assert (now.in_minor, now.back_minor) == (0, 20000)
    assert (before.in_minor, before.back_minor, before.payments) == (20000, 0, 1)


def test_other_units_are_not_counted(unit, order, press):
    pay(order, 20000, press)
    elsewhere = makers.a_unit(name="Elsewhere")
    assert debts.takings(elsewhere, TODAY()).in_minor == 0


class TestDepositRule:
    def test_a_fixed_sum_is_asked_for_but_never_above_the_price(self, unit, order):
        unit.deposit_fixed_minor = 5000
        assert deposit_of(unit, 32400) == 5000
        assert deposit_of(unit, 4000) == 4000
        unit.deposit_fixed_minor = None
        assert deposit_of(unit, 32400) == 8100

    def test_it_is_due_so_many_days_before_the_sitting_and_late_after(self, unit, owner):
        makers.prices(unit)
        unit.deposit_days = 3
        unit.save()
        makers.a_job(unit)  # tomorrow: it was due two days ago
        (found,) = debts.deposits_before(unit, timezone.now() + timedelta(days=7))
        assert found.due_on == timezone.localdate(found.sits_at) - timedelta(days=3)
        assert "It was due on" in owner.get("/").content.decode()

    def test_the_unit_says_it(self, unit, owner):
        page = owner.get(reverse("studio:edit_unit")).content.decode()
        assert "Or a fixed deposit, £" in page
