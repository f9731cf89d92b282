"""PDFs kept with their digests, notes for parts, receipts, accounts, ageing, reminders, batches."""

import uuid
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.balances.accounts import account_of
from orders.balances.actions import note_reminder
from orders.balances.ageing import ageing
from orders.balances.reminder_letters import bucket_of, tone_of
from orders.books.actions import set_vat_threshold
from orders.books.turnover import near_threshold, supplies, turnover
from orders.invoices import batch, invoice_pdf
from orders.invoices.actions import credit_invoice, credit_part, issue_invoice
from orders.invoices.archive import ArchiveMismatch, archived_pdf
from orders.invoices.batch import ISSUE_INVOICES
from orders.invoices.models import Invoice, InvoicePdf, NumberSeries
from orders.order.totals import balance_of, current_invoice
from orders.order_page.actions import call_off
from orders.payments.actions import reverse_payment, take_payment
from orders.payments.payment_references import creditor_reference, in_fours
from orders.receipts.actions import give_receipt
from orders.receipts.models import Receipt
from studio.families.models import Family
from studio.stages import ActionRefused, Stage
from studio.work import queue
from studio.work.models import Work
from tests import makers
from tests.orders.invoices.test_invoice_pdf import read

TODAY = timezone.localdate


def issue(order, press):
    return issue_invoice(order, **press())


def pay(order, press, minor, days_ago=0):
    return take_payment(
        order,
        amount_minor=minor,
        method="cash",
        received_on=TODAY() - timedelta(days=days_ago),
        **press(),
    )


class TestKept:
    def test_the_first_pdf_is_kept_and_shown_from_then_on(self, order, press, at, monkeypatch):
        invoice = issue(order, press)
        first = archived_pdf(invoice, at=at)
        monkeypatch.setattr(invoice_pdf, "invoice_pdf", lambda _invoice: b"another printer's")
        assert archived_pdf(invoice, at=at) == first
        assert InvoicePdf.objects.get().made_at == at

    def test_issuing_on_the_page_keeps_it(self, order, owner):
        url = f"/jobs/{order.job.display_reference}/order/invoice/"
        owner.post(url, {"key": uuid.uuid4()})
        kept = InvoicePdf.objects.get()
        answer = owner.get(reverse("orders:invoice_pdf", args=["INV-0001"]))
        assert answer.content == bytes(kept.pdf)

    @pytest.mark.parametrize("what", ["pdf", "content"])
    def test_whoever_changes_the_database_is_found_out(self, order, owner, press, at, what):
        invoice = issue(order, press)
        written = archived_pdf(invoice, at=at)
        if what == "pdf":
            InvoicePdf.objects.update(pdf=written.replace(b"%PDF-1.7", b"%PDF-1.6"))
        else:
            Invoice.objects.update(content=invoice.content | {"total_minor": 1})
        invoice.refresh_from_db()
        with pytest.raises(ArchiveMismatch, match="is not what was issued"):
            archived_pdf(invoice, at=at)
        answer = owner.get(reverse("orders:invoice_pdf", args=["INV-0001"]))
        assert answer.status_code == 409
        assert "Bring the paper back from a back-up" in answer.content.decode()

    def test_it_is_never_written_again(self, order, press, at):
        invoice = issue(order, press)
        archived_pdf(invoice, at=at)
        with pytest.raises(TypeError, match="never written again"):
            invoice.kept.save()
        with pytest.raises(TypeError, match="never deleted"):
            invoice.kept.delete()


class TestParts:
    def test_the_invoice_stands_and_the_order_comes_to_less(self, order, press, vat):
        vat()
        invoice = issue(order, press)
        note = credit_part(invoice, amount_minor=999, why="A chip in the oak", **press())
        assert (note.total_minor, note.vat_minor, note.reduces) == (-999, -167, invoice)
        assert current_invoice(order) == invoice
        assert balance_of(order) == 32400 - 999
        assert note.content["credits"]["number"] == "INV-0001"
        text = read(invoice_pdf.invoice_pdf(note))
        assert "It reduces invoice INV-0001" in text
        assert "A chip in the oak 1" in text
        assert "VAT at 20 % of £8.32 £1.67" in text

    def test_the_rest_is_cancelled_and_the_order_invoiced_anew(self, order, press, vat):
        vat()
        invoice = issue(order, press)
        credit_part(invoice, amount_minor=999, why="A chip", **press())
        rest = credit_invoice(invoice, why="A new address.", **press())
        assert (rest.total_minor, rest.vat_minor) == (-31401, -5400 + 167)
        assert rest.content["lines"][-1]["label"] == "Credited by CRN-0001"
        again = issue(order, press)
        assert again.total_minor == 31401

    def test_not_more_than_is_left_not_of_a_note_and_with_a_reason(self, order, press):
        invoice = issue(order, press)
        note = credit_part(invoice, amount_minor=32000, why="A fault", **press())
        for amount_minor in (0, -1, 401):
            with pytest.raises(ActionRefused, match="at most what is left"):
                credit_part(invoice, amount_minor=amount_minor, why="A fault", **press())
        with pytest.raises(ActionRefused, match="Write what is credited"):
            credit_part(invoice, amount_minor=1, why=" ", **press())
        with pytest.raises(ActionRefused, match="cannot be cancelled"):
            credit_part(note, amount_minor=1, why="A fault", **press())
        assert NumberSeries.objects.get(prefix="CRN-").last == 1

    def test_the_part_that_is_all_that_is_left_cancels_it(self, order, press):
        invoice = issue(order, press)
        credit_part(invoice, amount_minor=400, why="A chip", **press())
        last = credit_part(invoice, amount_minor=32000, why="A fault", **press())
        assert last.credits == invoice
        assert current_invoice(order) is None
        assert balance_of(order) == 0
        event = call_off(
            order.job, seen=Stage.BOOKED, keep_minor=0, why="They moved away.", **press()
        )
        assert event.to_stage == Stage.CALLED_OFF

    def test_the_same_press_twice_is_one(self, order, press):
        invoice, once = issue(order, press), press()
        first = credit_part(invoice, amount_minor=100, why="A chip", **once)
        assert credit_part(invoice, amount_minor=100, why="A chip", **once) == first
        assert balance_of(order) == 32300

    def test_on_its_page(self, order, press, owner, helper, stranger):
        issue(order, press)
        url = reverse("orders:credit_part", args=["INV-0001"])
        page = owner.get(url).content.decode()
        assert "Pair of casts, framed £199.00" in page
        sent = {"key": uuid.uuid4(), "amount_minor": "3.50", "why": "A chip"}
        assert helper.post(url, sent).status_code == 403
        assert stranger.post(url, sent).status_code == 404
        assert owner.post(url, sent | {"amount_minor": "999"}).status_code == 409
        assert owner.post(url, sent).status_code == 302
        assert "reduces INV-0001" in owner.get("/money/invoices/").content.decode()


class TestReceipts:
    def test_numbered_without_gaps_once_for_a_payment(self, order, press):
        payments = [pay(order, press, 5000), pay(order, press, 100)]
        first = give_receipt(payments[0], **press())
        assert give_receipt(payments[0], **press()) == first
        second = give_receipt(payments[1], **press())
        assert [first.number, second.number] == ["RCT-0001", "RCT-0002"]
        text = read(invoice_pdf.receipt_pdf(first.content))
        assert "Received with thanks £50.00" in text
        assert "Sam Okafor" in text
        assert "vat" not in text.lower()

    def test_of_a_registered_trader_it_shows_rate_and_tax(self, order, press, vat):
        # SI 1995/2518 reg 16A [src]: 50.00 with 20 % holds 8.33.
        vat()
        receipt = give_receipt(pay(order, press, 5000), **press())
        text = read(invoice_pdf.receipt_pdf(receipt.content))
        assert "With VAT at 20 %: £8.33" in text
        assert "VAT number GB 123 4567 89" in text

    def test_not_for_money_that_went_back(self, order, press):
        taken = pay(order, press, 5000)
        mirror = reverse_payment(taken, why="Typed twice.", **press())
        for payment in (taken, mirror):
            with pytest.raises(ActionRefused):
                give_receipt(payment, **press())
        assert not Receipt.objects.exists()

    def test_on_its_page(self, order, press, owner, helper, stranger):
        payment = pay(order, press, 5000)
        url = f"/jobs/{order.job.display_reference}/order/payments/{payment.pk}/receipt/"
        sent = {"key": uuid.uuid4()}
        assert owner.get(url).status_code == 405
        assert helper.post(url, sent).status_code == 403
        assert stranger.post(url, sent).status_code == 404
        assert "Receipt RCT-0001" in owner.post(url, sent, follow=True).content.decode()
        shown = reverse("orders:receipt_pdf", args=["RCT-0001"])
        assert owner.get(shown).content.startswith(b"%PDF-")
        assert stranger.get(shown).status_code == 404

    def test_it_is_never_edited(self, order, press):
        receipt = give_receipt(pay(order, press, 5000), **press())
        with pytest.raises(TypeError, match="never edited"):
            receipt.save()
        with pytest.raises(TypeError, match="never deleted"):
            receipt.delete()


class TestAccount:
    def test_rows_with_the_balance_after_each(self, order, press):
        pay(order, press, 8000, days_ago=5)
        invoice = issue(order, press)
        credit_part(invoice, amount_minor=400, why="A chip", **press())
        account = account_of(order.job.family)
        assert [(row.amount_minor, row.balance_minor) for row in account.rows] == [
            (-8000, -8000),
            (32400, 24400),
            (-400, 24000),
        ]
        assert account.balance_minor == balance_of(order)

    def test_page_panel_and_pdf(self, order, press, owner, helper, stranger):
        issue(order, press)
        url = reverse("orders:account", args=[order.job.family_id])
        assert "£324.00 is still to pay" in owner.get(url).content.decode()
        assert helper.get(url).status_code == 403
        assert stranger.get(url).status_code == 404
        family = owner.get(f"/families/{order.job.family_id}/").content.decode()
        assert "Open the account" in family
        written = owner.get(reverse("orders:account_pdf", args=[order.job.family_id])).content
        text = read(written)
        assert "Invoice INV-0001 £324.00 £324.00" in text
        assert "Still to pay £324.00" in text

    def test_empty(self, unit, owner):
        family = makers.a_family(unit)
        page = owner.get(reverse("orders:account", args=[family.pk])).content.decode()
        assert "Nothing yet" in page
        assert "Open the statement" not in page


def overdue(order, press, days):
    invoice = issue(order, press)
    Invoice.objects.filter(pk=invoice.pk).update(due_on=TODAY() - timedelta(days=days))
    return invoice


class TestAgeing:
    @pytest.mark.parametrize(
        ("days", "step"),
        [(-14, 0), (0, 0), (1, 1), (30, 1), (31, 2), (60, 2), (61, 3), (90, 3), (91, 4), (999, 4)],
    )
    def test_steps_of_lateness(self, days, step):
        assert bucket_of(days) == step

    def test_an_invoice_in_its_step(self, order, press, unit, owner):
        overdue(order, press, 45)
        pay(order, press, 2400)
        found = ageing(unit, TODAY())
        assert [(words, n, minor) for words, n, minor in found.sums if n] == [
            ("31 to 60 days late", 1, 30000)
        ]
        page = owner.get("/money/ageing/").content.decode()
        assert "£300.00 is invoiced and not paid" in page
        assert "Draft one" in page

    def test_paid_is_not_late(self, order, press, unit):
        overdue(order, press, 45)
        pay(order, press, 32400)
        assert ageing(unit, TODAY()).rows == []

    def test_due_by_the_units_own_days(self, order, press, unit):
        unit.payment_days = 30
        unit.save()
        invoice = issue(order, press)
        assert (invoice.due_on - invoice.issued_on).days == 30
        assert "To be paid by" in read(invoice_pdf.invoice_pdf(invoice))


class TestReminders:
    @pytest.mark.parametrize(
        ("days", "before", "tone"),
        [(1, 0, "kind"), (200, 0, "kind"), (14, 1, "kind"), (15, 1, "plain"), (43, 1, "firm")],
    )
    def test_the_first_is_always_kind(self, days, before, tone):
        assert tone_of(days, before) == tone

    def test_the_draft_is_shown_and_nothing_is_sent(self, order, press, owner, mailoutbox):
        overdue(order, press, 20)
        page = owner.get(f"/jobs/{order.job.display_reference}/order/reminder/").content.decode()
        assert "Dear Sam Okafor" in page
        assert "£324.00 of it was due on" in page
        assert "mailto:okafor@example.com?subject=Invoice%20INV-0001" in page
        assert "no legal advice" in page
        assert in_fours(creditor_reference(order.job.reference)) in page  # as the invoice says it
        assert mailoutbox == []
        assert not order.job.events.filter(what="note_reminder").exists()

    def test_what_was_sent_is_written_down_and_the_next_is_plainer(
        self, order, press, owner, helper, stranger
    ):
        overdue(order, press, 20)
        url = f"/jobs/{order.job.display_reference}/order/reminder/note/"
        sent = {"key": uuid.uuid4()}
        assert owner.get(url).status_code == 405
        assert helper.post(url, sent).status_code == 403
        assert stranger.post(url, sent).status_code == 404
        for _ in range(2):
            assert owner.post(url, sent).status_code == 302
        assert order.job.events.filter(what="note_reminder").count() == 1
        page = owner.get(f"/jobs/{order.job.display_reference}/order/reminder/").content.decode()
        assert "I am writing about" in page
        assert "Reminded on" in page

    def test_nothing_to_remind_of(self, order, press, owner):
        url = f"/jobs/{order.job.display_reference}/order/reminder/"
        assert "Nothing to remind of" in owner.get(url).content.decode()
        with pytest.raises(ActionRefused, match="No invoice stands"):
            note_reminder(order, **press())
        issue(order, press)
        pay(order, press, 32400)
        with pytest.raises(ActionRefused, match="The invoice is paid"):
            note_reminder(order, **press())

    def test_a_family_without_an_address_of_mail(self, order, press, owner):
        overdue(order, press, 20)
        Family.objects.update(email="")
        page = owner.get(f"/jobs/{order.job.display_reference}/order/reminder/").content.decode()
        assert "mailto:" not in page
        assert "copy the words" in page


@pytest.fixture
def ready(unit):
    """Three jobs that are ready, none invoiced."""
    return [makers.job_at(Stage.READY, unit) for _ in range(3)]


def run(work):
    """What the worker does with it."""
    queue.run_work.func(work.pk)
    work.refresh_from_db()
    return work


class TestBatch:
    def test_one_press_issues_and_keeps_them_all(self, ready, unit, owner):
        page = owner.get("/money/invoices/batch/").content.decode()
        assert page.count('type="checkbox"') == 3
        orders = [job.order.pk for job in ready]
        sent = {"key": uuid.uuid4(), "orders": orders}
        answer = owner.post("/money/invoices/batch/", sent)
        work = Work.objects.get(kind=ISSUE_INVOICES)
        assert answer["Location"] == work.get_absolute_url()
        owner.post("/money/invoices/batch/", sent)
        assert Work.objects.filter(kind=ISSUE_INVOICES).count() == 1
        run(work)
        assert (work.state, work.words, work.done, work.total) == (
            "done",
            "3 invoices issued.",
            3,
            3,
        )
        assert InvoicePdf.objects.count() == 3
        assert (
            "Nothing waits for an invoice" in owner.get("/money/invoices/batch/").content.decode()
        )

    def test_what_cannot_be_issued_waits_and_says_why(self, ready, unit, owner):
        Family.objects.filter(pk=ready[1].family_id).update(address="")
        sent = {"key": uuid.uuid4(), "orders": [job.order.pk for job in ready]}
        owner.post("/money/invoices/batch/", sent)
        work = run(Work.objects.get(kind=ISSUE_INVOICES))
        assert work.words.startswith("2 invoices issued. Not issued: ")
        assert f"{ready[1].display_reference}: Write the family's address" in work.words
        assert sorted(Invoice.objects.values_list("number", flat=True)) == ["INV-0001", "INV-0002"]

    def test_a_worker_that_is_killed_half_way_goes_on_behind_what_is_there(
        self, ready, owner, monkeypatch
    ):
        sent = {"key": uuid.uuid4(), "orders": [job.order.pk for job in ready]}
        owner.post("/money/invoices/batch/", sent)
        work = Work.objects.get(kind=ISSUE_INVOICES)
        kept, calls = archived_pdf, []

        def power_cut(invoice, *, at):
            calls.append(invoice)
            if len(calls) == 2:
                raise OSError("the power went")
            return kept(invoice, at=at)

        with monkeypatch.context() as patch:
            patch.setattr(batch, "archived_pdf", power_cut)
            run(work)
        assert (work.state, Invoice.objects.count()) == ("waiting", 2)
        run(work)
        assert work.words == "3 invoices issued."
        assert Invoice.objects.count() == InvoicePdf.objects.count() == 3
        assert NumberSeries.objects.get().last == 3

    def test_nothing_ticked_an_order_of_somebody_else_and_the_wrong_people(
        self, ready, owner, helper, stranger
    ):
        assert owner.post("/money/invoices/batch/", {"key": uuid.uuid4()}).status_code == 422
        sent = {"key": uuid.uuid4(), "orders": [ready[0].order.pk]}
        assert helper.post("/money/invoices/batch/", sent).status_code == 403
        assert stranger.post("/money/invoices/batch/", sent).status_code == 422
        assert not Work.objects.filter(kind=ISSUE_INVOICES).exists()


class TestTurnoverPage:
    def test_threshold_level_and_the_line_on_today(self, order, press, unit, owner, helper):
        page = owner.get("/money/turnover/").content.decode()
        assert "No threshold is written down" in page
        sent = {
            "valid_from": "2024-04-01",
            "register_minor": "400",
            "leave_minor": "380",
            "warn_percent": "80",
        }
        wrong = owner.post("/money/turnover/threshold/", sent | {"leave_minor": "401"})
        assert wrong.status_code == 422
        assert owner.post("/money/turnover/threshold/", sent).status_code == 302
        issue(order, press)
        page = owner.get("/money/turnover/").content.decode()
        assert "It comes near." in page
        assert "£324.00" in page
        assert "Turnover is at 81 %" in owner.get("/").content.decode()
        assert "Turnover" not in helper.get("/").content.decode()
        assert helper.get("/money/turnover/").status_code == 403

    def test_deposits_count_on_their_day_and_credits_on_theirs(self, order, press, unit, vat):
        pay(order, press, 8400, days_ago=100)
        since = TODAY() - timedelta(days=400)
        assert [s.amount_minor for s in supplies(unit, since)] == [8400]
        vat(on=TODAY() - timedelta(days=50))
        invoice = issue(order, press)
        found = sorted(supplies(unit, since), key=lambda s: s.on)
        assert [(TODAY() - s.on, s.amount_minor) for s in found] == [
            (timedelta(days=100), 8400),
            (timedelta(days=0), 20000),
        ]
        credit_part(invoice, amount_minor=1200, why="A chip", **press())
        assert turnover(unit, TODAY()).total_minor == 28400 - 1200 + _vat_of(1200, 240, 324)

    def test_a_registered_trader_is_not_warned(self, order, press, unit, vat):
        set_vat_threshold(
            unit,
            valid_from=date(2024, 4, 1),
            facts={"register_minor": 100, "leave_minor": 90, "warn_percent": 80},
        )
        issue(order, press)
        assert near_threshold(unit, TODAY()) > 100
        vat()
        unit.refresh_from_db()
        assert near_threshold(unit, TODAY()) is None

    def test_the_tax_of_papers_from_before_one_left_is_no_turnover(self, order, press, unit, vat):
        set_vat_threshold(
            unit,
            valid_from=date(2024, 4, 1),
            facts={"register_minor": 10000, "leave_minor": 9000, "warn_percent": 80},
        )
        vat()
        issue(order, press)
        unit.refresh_from_db()
        unit.vat_left_on = TODAY()
        unit.save()
        turnover_minor = turnover(unit, TODAY()).total_minor
        assert near_threshold(unit, TODAY()) == turnover_minor // 100


def _vat_of(amount, taxed, whole):
    """The tax in the taxed part of a credit: 20 % inside it, to the penny."""
    part = Decimal(amount) * taxed / whole
    return round(part / 6)
