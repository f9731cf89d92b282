"""The bank's file on the owner's desk: read once, proposed with a reason, posted by a press."""

import uuid
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from orders.bank.actions import (
    post_line,
    put_line_back,
    read_statement,
    set_aside_line,
    set_columns,
    take_statement,
)
from orders.bank.bank_files import Columns
from orders.bank.models import Statement, StatementLine
from orders.bank.proposals import with_proposals
from orders.invoices.actions import issue_invoice
from orders.order.totals import balance_of
from orders.payments.actions import reverse_payment
from orders.payments.models import Payment
from orders.payments.payment_references import creditor_reference
from studio.stages import ActionRefused
from tests.parts.markup import folded
from tests.working import work_off

MAP = Columns(booked_on="Date", words="Description", amount="Amount", name="Payer")

HEADINGS = ["Date", "Payer", "Description", "Amount"]

TODAY = timezone.localdate


def csv_of(*rows, day=None):
    on = f"{day or TODAY():%d/%m/%Y}"
    return "\n".join([",".join(HEADINGS), *(f"{on},{row}" for row in rows), ""]).encode()


@pytest.fixture
def take(unit, by, at):
    """Bring in a file and read it at once, its columns being known."""
    set_columns(unit, headings=HEADINGS, columns=MAP)

    def bring(data, name="bank.csv"):
        statement = take_statement(unit, name=name, data=data, by=by, at=at)
        return read_statement(statement)

    return bring


@pytest.fixture
def line(order, take):
    """The deposit of the order's family, with its reference."""
    words = creditor_reference(order.job.reference)
    return take(csv_of(f"S OKAFOR,{words},81.00")).lines.get()


class TestReading:
    def test_only_what_came_in_is_kept(self, take):
        read = take(csv_of("A,x,81.00", "KILN,plaster,-54.20", "B,y,5.00"))
        assert (read.came_in, read.new, read.went_out) == (2, 2, 1)
        assert (read.state, read.data) == ("read", None)

    def test_the_same_file_twice_and_an_overlapping_one_write_nothing_twice(self, unit, take):
        day = TODAY() - timedelta(days=2)
        take(csv_of("A,x,81.00", "A,x,81.00", day=day))
        again = take(csv_of("A,x,81.00", "A,x,81.00", day=day), name="again.csv")
        assert again.name == "bank.csv"
        longer = take(csv_of("B,y,5.00", "A,x,81.00", "A,x,81.00", day=day))
        assert (longer.came_in, longer.new) == (3, 1)
        assert unit.statement_lines.count() == 3

    def test_a_broken_file_says_why_and_writes_nothing(self, unit, take):
        read = take(csv_of("A,x,81.00", "B,y,one"))
        assert (read.state, read.lines.count()) == ("unreadable", 0)
        assert read.error == "Line 3 of the file: “one” is no amount of money."

    def test_begun_again_it_is_unfinished(self, unit, take, by, at, monkeypatch):
        """A reader that dies after the first chunk leaves whole lines; the next one adds the rest."""
        monkeypatch.setattr("orders.bank.actions.AT_ONCE", 2)
        data = csv_of(*(f"P{n},w{n},{n}.00" for n in range(1, 8)))
        statement = take_statement(unit, name="b.csv", data=data, by=by, at=at)

        def die(done, total):
            raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            read_statement(statement, tell=die)
        assert unit.statement_lines.count() == 2
        read = read_statement(Statement.objects.get(pk=statement.pk))
        assert (read.new, unit.statement_lines.count()) == (7, 7)

    def test_ten_thousand_lines_with_their_progress(self, unit, take, by, at):
        data = csv_of(*(f"P{n},w{n},{n % 900 + 1}.00" for n in range(10_000)))
        statement = take_statement(unit, name="big.csv", data=data, by=by, at=at)
        told = []
        read_statement(statement, tell=lambda done, total: told.append((done, total)))
        assert unit.statement_lines.count() == 10_000
        assert told[-1] == (10_000, 10_000)
        assert len(told) == 20


class TestProposing:
    def test_a_reference_is_found_with_its_reason(self, unit, order, line):
        (found,) = with_proposals(unit, [line])
        assert (found.choices[0].reference, found.choices[0].strength) == (order.job.reference, 3)
        assert "It is the deposit." in found.choices[0].why

    def test_an_invoice_number_is_one_too(self, unit, order, take, press):
        number = issue_invoice(order, **press()).number
        line = take(csv_of(f"X Y,{number},1.00")).lines.get()
        assert with_proposals(unit, [line])[0].choices[0].strength == 3

    def test_another_units_order_is_never_proposed(self, order, line, stranger):
        theirs = stranger.user.memberships.get().unit
        assert with_proposals(theirs, [line])[0].choices == []


class TestPosting:
    def test_a_press_posts_it_once(self, order, line, press):
        once = press()
        payment = post_line(line, order, **once)
        assert post_line(line, order, **once) == payment
        assert (payment.amount_minor, payment.method) == (8100, "transfer")
        assert order.job.events.filter(what="take_payment").count() == 1
        assert not order.unit.statement_lines.waiting().exists()

    def test_a_second_press_with_another_key_is_told(self, order, line, press):
        post_line(line, order, **press())
        with pytest.raises(ActionRefused, match="posted already, on job"):
            post_line(line, order, **press())
        assert order.payments.count() == 1

    def test_more_than_is_owed_is_owed_back(self, order, take, press):
        line = take(csv_of("S OKAFOR,x,400.00")).lines.get()
        post_line(line, order, **press())
        assert balance_of(order) == 32400 - 40000

    def test_a_reversed_payment_lets_its_line_wait_again(self, order, line, press):
        payment = post_line(line, order, **press())
        reverse_payment(payment, why="The wrong job.", **press())
        assert list(order.unit.statement_lines.waiting()) == [line]
        post_line(line, order, **press())
        assert order.payments.filter(reversed_by=None, reverses=None).count() == 1

    def test_set_aside_it_waits_no_more_until_put_back(self, unit, order, line, press):
        set_aside_line(line, why="My own money.")
        assert not unit.statement_lines.waiting().exists()
        with pytest.raises(ActionRefused, match="set aside"):
            post_line(line, order, **press())
        put_line_back(line)
        assert unit.statement_lines.waiting().exists()


class TestPages:
    def send(self, owner, data, name="bank.csv"):
        return owner.post(
            reverse("orders:take_statement"), {"file": SimpleUploadedFile(name, data)}, follow=True
        )

    def test_an_unknown_table_is_asked_about_once(self, owner, unit, order):
        asked = self.send(owner, csv_of("S OKAFOR,x,81.00"))
        assert "Which column holds what?" in folded(asked.content.decode())
        url = asked.request["PATH_INFO"]
        wrong = owner.post(url, {"booked_on": "Date", "words": "Description"})
        assert wrong.status_code == 422
        facts = {"booked_on": "Date", "words": "Description", "amount": "Amount", "name": "Payer"}
        owner.post(url, facts | {"date_form": "%d/%m/%Y"})
        work_off()
        assert "Post it on" in folded(owner.get(reverse("orders:bank")).content.decode())
        second = self.send(owner, csv_of("S OKAFOR,other,5.00"))
        assert "Which column" not in folded(second.content.decode())

    def test_no_file_an_empty_one_and_one_read_before(self, owner, take):
        assert owner.post(reverse("orders:take_statement")).status_code == 422
        assert self.send(owner, b"").status_code == 422
        assert self.send(owner, b" \n").status_code == 422
        data = csv_of("A,x,1.00")
        take(data)
        assert "read before" in folded(self.send(owner, data).content.decode())

    def test_a_broken_file_can_be_forgotten(self, owner, unit):
        page = self.send(owner, b"<OFX><STMTTRN>", "x.ofx")
        work_off()
        statement = unit.statements.get()
        assert "broken off" in folded(owner.get(statement.get_absolute_url()).content.decode())
        assert page.status_code == 200
        owner.post(reverse("orders:drop_statement", args=[statement.pk]))
        assert not unit.statements.exists()

    def test_a_read_file_is_not_forgotten(self, owner, take):
        read = take(csv_of("A,x,1.00"))
        answered = owner.post(reverse("orders:drop_statement", args=[read.pk]))
        assert answered.status_code == 409

    def test_posted_from_the_page(self, owner, order, line):
        url = reverse("orders:post_line", args=[line.pk])
        slip = {"key": uuid.uuid4(), "reference": "CY8Y-EGPJ"}
        assert owner.post(url, slip).status_code == 409
        owner.post(url, {"key": uuid.uuid4(), "reference": order.job.display_reference})
        assert Payment.objects.get().bank_line == line

    def test_the_page_reads_no_more_for_many_lines(
        self, owner, unit, order, line, constant_queries
    ):
        def grow():
            StatementLine.objects.bulk_create(
                StatementLine(
                    unit=unit,
                    statement=line.statement,
                    fingerprint=str(n),
                    booked_on=TODAY(),
                    amount_minor=8100,
                    name="Okafor",
                )
                for n in range(20)
            )

        constant_queries(lambda: owner.get(reverse("orders:bank")), grow)
