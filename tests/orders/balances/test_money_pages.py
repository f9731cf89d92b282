"""The owner's pages of money: what they show, who may come in, and how much they read."""

import secrets
import uuid
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.balances.debts import owed
from orders.invoices.actions import credit_invoice, issue_invoice
from orders.invoices.models import Invoice
from orders.order.actions import add_reduction, choose_look
from orders.order.models import Order, OrderLine
from orders.payments.actions import release_on_account, reverse_payment, take_payment
from orders.payments.models import Payment
from orders.prices.actions import make_price_list
from studio import references
from studio.jobs.actions import open_job
from studio.jobs.models import Job
from studio.limbs import Limb
from studio.stages import Stage
from tests import makers
from tests.parts.markup import folded


def jobs(unit, by, count):
    """So many priced jobs of one family, and their orders."""
    makers.prices(unit)
    family = unit.families.first() or makers.a_family(unit)
    child = family.children.first()
    return [
        open_job(
            family,
            wanted=[(child, Limb.LEFT_HAND)],
            promised_on=None,
            by=by,
            at=timezone.now(),
            key=uuid.uuid4(),
        )
        for _ in range(count)
    ]


def invoiced_and_part_paid(unit, by, count):
    for job in jobs(unit, by, count):
        write = {"by": by, "at": timezone.now()}
        issue_invoice(job.order, **write, key=uuid.uuid4())
        take_payment(
            job.order,
            amount_minor=500,
            method="cash",
            received_on=timezone.localdate(),
            **write,
            key=uuid.uuid4(),
        )


class TestOwed:
    def test_what_is_owed_now_and_what_is_to_come_are_two_lists(self, unit, owner, by, press):
        invoiced, ready, booked, paid = jobs(unit, by, 4)
        invoice = issue_invoice(invoiced.order, **press())
        Invoice.objects.filter(pk=invoice.pk).update(
            issued_on=timezone.localdate() - timedelta(days=20)
        )
        Job.objects.filter(pk=ready.pk).update(stage=Stage.READY)
        take_payment(
            paid.order,
            amount_minor=12500,
            method="card",
            received_on=timezone.localdate(),
            **press(),
        )
        text = folded(owner.get(reverse("orders:money")).content.decode())
        assert "Invoice not paid" in text
        assert "20 days" in text
        assert "Ready to go home, not paid" in text
        assert "came in, by 1 payment." in text
        assert "£125.00" in text
        assert invoiced.display_reference in text
        for absent in (booked, paid):
            assert absent.display_reference not in text
        later = folded(owner.get(reverse("orders:to_come")).content.decode())
        assert booked.display_reference in later
        assert "£31.25" in later  # the deposit of £125.00, 25 %, half up
        for absent in (invoiced, ready, paid):
            assert absent.display_reference not in later

    def test_the_oldest_invoice_stands_first_and_an_old_one_is_late(self, unit, by, press):
        today = timezone.localdate()
        for days, job in zip((3, 15, 14), jobs(unit, by, 3), strict=True):
            invoice = issue_invoice(job.order, **press())
            Invoice.objects.filter(pk=invoice.pk).update(issued_on=today - timedelta(days=days))
        debts = owed(unit, today)
        assert [(debt.days, debt.is_late) for debt in debts] == [
            (15, True),
            (14, False),
            (3, False),
        ]

    def test_a_credited_invoice_is_no_debt(self, unit, by, press):
        (job,) = jobs(unit, by, 1)
        invoice = issue_invoice(job.order, **press())
        credit_invoice(invoice, why="Wrong.", **press())
        assert owed(unit, timezone.localdate()) == []

    def test_the_empty_page_says_what_will_stand_there(self, owner):
        text = folded(owner.get(reverse("orders:money")).content.decode())
        assert "Nobody owes you anything" in text
        assert "Nothing came in yet" in text


def rows_at_once(unit, by, count):
    """As many invoiced, part-paid orders and as many open ones, without walking the actions."""
    (pattern,) = jobs(unit, by, 1)
    now, today = timezone.now(), timezone.localdate()
    made = Job.objects.bulk_create(
        Job(
            unit=unit,
            family=pattern.family,
            reference=references.new_reference(secrets.choice),
            promised_on=today,
            opened_at=now,
        )
        for _ in range(2 * count)
    )
    orders = Order.objects.bulk_create(
        Order(unit=unit, job=job, price_list=pattern.order.price_list) for job in made
    )
    OrderLine.objects.bulk_create(
        OrderLine(order=order, label="A cast", unit_minor=12500) for order in orders
    )
    Payment.objects.bulk_create(
        Payment(unit=unit, order=order, amount_minor=500, method="cash", received_on=today, by=by)
        for order in orders[:count]
    )
    Invoice.objects.bulk_create(
        Invoice(
            unit=unit,
            order=order,
            kind="invoice",
            number=f"TEST-{order.pk}",
            issued_on=today,
            supplied_on=today,
            total_minor=12500,
            content={},
            by=by,
        )
        for order in orders[:count]
    )


PAGES = ("money", "to_come", "invoices", "payments", "prices")


@pytest.mark.parametrize("name", PAGES)
class TestWhoMayComeIn:
    def test_helpers_may_not(self, unit, helper, name):
        assert helper.get(reverse(f"orders:{name}")).status_code == 403

    def test_another_units_owner_sees_nothing_of_it(self, unit, stranger, by, name):
        invoiced_and_part_paid(unit, by, 1)
        text = folded(stranger.get(reverse(f"orders:{name}")).content.decode())
        assert unit.jobs.get().display_reference not in text
        assert "INV-0001" not in text

    def test_they_only_answer_get(self, owner, name):
        assert owner.post(reverse(f"orders:{name}")).status_code == 405


@pytest.mark.parametrize("name", ["money", "to_come", "invoices", "payments"])
@pytest.mark.parametrize("rows", [10, 200])
def test_constant_queries(unit, owner, by, constant_queries, name, rows):
    invoiced_and_part_paid(unit, by, 2)
    jobs(unit, by, 2)
    constant_queries(
        lambda: owner.get(reverse(f"orders:{name}")), lambda: rows_at_once(unit, by, rows)
    )


def test_a_long_list_is_paged(unit, owner, by):
    invoiced_and_part_paid(unit, by, 1)
    rows_at_once(unit, by, 45)
    first = folded(owner.get(reverse("orders:invoices")).content.decode())
    assert "Page 1 of 2" in first
    assert first.count("TEST-") >= 40
    assert "INV-0001" not in first
    assert "INV-0001" in folded(owner.get(reverse("orders:invoices"), {"page": 2}).content.decode())


class TestOrderPage:
    def test_it_shows_lines_payments_papers_and_their_buttons(self, order, owner, look, press):
        choose_look(order, backing=look.backing, finish=look.finish, seen_version=1, **press())
        add_reduction(order, label="Friends", amount_minor=100, **press())
        paid = take_payment(
            order,
            amount_minor=8100,
            method="cash",
            received_on=timezone.localdate(),
            **press(),
        )
        text = folded(owner.get(order.get_absolute_url()).content.decode())
        for words in (
            "the cheapest choice for exactly 3 pieces",
            "Backing: Deep blue felt",
            "-£1.00",
            "£269.00",  # 324 + 12 + 15 - 1 - 81
            "Issue the invoice",
            "Call the job off",
            reverse("orders:reverse_payment", args=[order.job.reference, paid.pk]),
        ):
            assert words in text, words
        issue_invoice(order, **press())
        text = folded(owner.get(order.get_absolute_url()).content.decode())
        assert "Issue the invoice" not in text
        assert "Take something off" not in text
        assert reverse("orders:credit_invoice", args=["INV-0001"]) in text

    def test_each_button_carries_a_key_of_its_own(self, order, owner, press):
        for label in ("One", "Two", "Three"):
            add_reduction(order, label=label, amount_minor=100, **press())
        text = folded(owner.get(order.get_absolute_url()).content.decode())
        keys = [part.split('"')[0] for part in text.split('name="key" value="')[1:]]
        assert len(keys) >= 5
        assert len(set(keys)) == len(keys)

    def test_a_job_without_a_price_says_how_to_get_one(self, unit, owner, press):
        family = makers.a_family(unit)
        job = open_job(
            family,
            wanted=[(family.children.get(), Limb.LEFT_HAND)],
            promised_on=None,
            **press(),
        )
        url = reverse("orders:order", args=[job.reference])
        assert "No price list is in force" in folded(owner.get(url).content.decode())
        makers.prices(unit)
        assert "Price this job" in folded(owner.get(url).content.decode())

    def test_a_newer_list_is_offered(self, order, owner):
        assert "today’s list" not in folded(owner.get(order.get_absolute_url()).content.decode())
        make_price_list(order.unit, valid_from=timezone.localdate(), copy_of=order.price_list)
        assert "today’s list" in folded(owner.get(order.get_absolute_url()).content.decode())

    def test_constant_queries(self, order, owner, press, constant_queries):
        def add():
            add_reduction(order, label=str(uuid.uuid4()), amount_minor=10, **press())
            credit_invoice(issue_invoice(order, **press()), why="Again.", **press())
            payment = take_payment(
                order,
                amount_minor=10,
                method="cash",
                received_on=timezone.localdate(),
                **press(),
            )
            reverse_payment(payment, why="Slip.", **press())

        add()
        constant_queries(
            lambda: owner.get(order.get_absolute_url()), lambda: [add() for _ in range(8)]
        )

    def test_helpers_and_strangers(self, order, helper, stranger):
        url = order.get_absolute_url()
        assert helper.get(url).status_code == 403
        assert stranger.get(url).status_code == 404


class TestPanels:
    def today(self, client):
        return folded(client.get("/").content.decode())

    def test_today_asks_for_what_is_owed_and_tells_helpers_nothing_of_it(
        self, unit, owner, helper, by, press
    ):
        (job,) = jobs(unit, by, 1)
        invoice = issue_invoice(job.order, **press())
        Invoice.objects.filter(pk=invoice.pk).update(
            issued_on=timezone.localdate() - timedelta(days=30)
        )
        assert "Invoiced 30 days ago." in self.today(owner)
        assert "£125.00" in self.today(owner)
        assert "£" not in self.today(helper)

    def test_a_deposit_is_asked_for_a_week_before_the_sitting(self, unit, owner, by, press):
        makers.prices(unit)
        near = makers.a_job(unit, by=by, starts_at=timezone.now() + timedelta(days=6))
        text = self.today(owner)
        assert "Deposit before the sitting" in text
        assert "£49.75" in text  # 25 % of £199.00, half up
        take_payment(
            near.order,
            amount_minor=4975,
            method="card",
            received_on=timezone.localdate(),
            **press(),
        )
        assert "Deposit before the sitting" not in self.today(owner)

    def test_not_earlier_than_that(self, unit, owner, by):
        makers.prices(unit)
        makers.a_job(unit, by=by, starts_at=timezone.now() + timedelta(days=8))
        assert "Deposit before the sitting" not in self.today(owner)

    def test_a_ready_piece_stands_on_today_for_helpers_too(self, unit, helper, by):
        job = makers.job_at(Stage.READY, unit, by=by)
        text = self.today(helper)
        assert f"Hand over to {job.family.name}" in text

    def test_the_helpers_panel_shows_look_and_way_home_without_money(
        self, unit, owner, helper, by, press
    ):
        job = makers.job_at(Stage.READY, unit, by=by)
        text = folded(helper.get(job.get_absolute_url()).content.decode())
        assert "not chosen yet" in text
        assert "It may not go home yet: ask the owner." in text
        assert "£" not in text
        release_on_account(job.order, why="Friday.", **press())
        text = folded(helper.get(job.get_absolute_url()).content.decode())
        assert "It may go home." in text
        assert "Hand it over" in text

    def test_the_owners_panel_shows_figures_and_what_stands_in_the_way(self, unit, owner, by):
        job = makers.job_at(Stage.READY, unit, by=by)
        text = folded(owner.get(job.get_absolute_url()).content.decode())
        assert "£199.00" in text
        assert "It is not fully paid." in text
        assert "Take the payment" in text

    def test_constant_queries_on_today(self, unit, owner, by, constant_queries):
        invoiced_and_part_paid(unit, by, 2)
        Job.objects.filter(pk__in=[job.pk for job in jobs(unit, by, 2)]).update(stage=Stage.READY)

        def grow():
            rows_at_once(unit, by, 10)
            more = [job.pk for job in jobs(unit, by, 10)]
            Job.objects.filter(pk__in=more).update(stage=Stage.READY)

        constant_queries(lambda: owner.get("/"), grow)
