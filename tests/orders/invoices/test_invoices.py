"""Numbers without gaps, content that is frozen, what the law wants, and credit notes."""

import uuid
from datetime import timedelta

import pytest
from django.utils import timezone

from orders.invoices import invoice_content
from orders.invoices.actions import credit_invoice, issue_invoice
from orders.invoices.models import Invoice, NumberSeries
from orders.order.actions import add_reduction, drop_line
from orders.order.totals import current_invoice
from orders.payments.actions import reverse_payment, take_payment
from studio.accounts.models import Unit
from studio.families.models import Family
from studio.jobs.actions import open_job
from studio.limbs import Limb
from studio.stages import ActionRefused
from tests import makers
from tests.crowd import everybody


def issue(order, press):
    return issue_invoice(order, **press())


def credit(invoice, press, why="Wrong address."):
    return credit_invoice(invoice, why=why, **press())


class TestContent:
    def test_what_any_invoice_must_show(self, order, press, unit):
        # The list of gov.uk, "Invoices: what they must include" [src].
        unit.payment_words = "Sort code 00-00-00, account 00000000"
        unit.save()
        invoice = issue(order, press)
        content = invoice.content
        today = timezone.localdate().isoformat()
        assert content["number"] == invoice.number == "INV-0001"
        assert content["seller"] == {
            "name": "Hollin Casts",
            "trader_name": "Marian Hollin",
            "address": ["4 Kiln Yard", "Ashmouth"],
            "postcode": "CF10 9ZZ",
            "phone": "01632 960111",
            "email": "hollin@example.com",
            "country": "GB",
        }
        assert content["customer"] == {
            "name": "Sam Okafor",
            "address": ["9 Quay Row", "Ashmouth"],
            "postcode": "CF10 9ZZ",
            "country": "GB",
        }
        assert (content["issued_on"], content["supplied_on"]) == (today, today)
        assert [line["gross_minor"] for line in content["lines"]] == [12500, 19900]
        assert (content["total_minor"], content["balance_minor"]) == (32400, 32400)
        assert content["payment_words"] == unit.payment_words
        assert content["pieces"] == ["Ada, left hand", "Ada, right hand", "Ada, left foot"]

    def test_a_trader_who_is_not_registered_shows_nothing_of_vat(self, order, press):
        # HMRC CH91350 [src]
        invoice = issue(order, press)
        assert invoice_content.names_vat(invoice.content) is None
        assert not [key for key in invoice.content if "vat" in key or "net" in key or "tax" in key]
        assert invoice.vat_minor == 0

    def test_words_of_vat_that_somebody_typed_stop_the_invoice(self, order, press):
        add_reduction(order, label="Less 20 % VAT", amount_minor=100, **press())
        with pytest.raises(ActionRefused, match=r"Less 20 % VAT.*speaks of VAT"):
            issue(order, press)
        assert not NumberSeries.objects.exists()

    def test_a_registered_trader_shows_rate_net_and_vat(self, order, press, vat):
        # SI 1995/2518 reg 14 [src]; 19900 → 3317 of VAT, 12500 → 2083, together 5400 and no penny more.
        vat()
        invoice = issue(order, press)
        content = invoice.content
        assert content["seller"]["vat_number"] == "GB 123 4567 89"
        assert (content["net_minor"], content["vat_minor"]) == (27000, 5400)
        assert [line["net_minor"] for line in content["lines"]] == [10417, 16583]
        assert [line["percent"] for line in content["lines"]] == ["20", "20"]
        assert invoice.vat_minor == 5400

    def test_registered_after_the_supply_means_no_vat(self, order, press, vat):
        vat(on=timezone.localdate() + timedelta(days=1))
        assert "vat_minor" not in issue(order, press).content

    def test_a_deposit_before_the_registration_stays_untaxed(self, order, press, vat):
        # Status is decided by the tax point; a deposit makes its own (HMRC VATTOS5105) [src].
        today = timezone.localdate()
        vat(on=today - timedelta(days=5))
        take_payment(
            order,
            amount_minor=8400,
            method="cash",
            received_on=today - timedelta(days=9),
            **press(),
        )
        content = issue(order, press).content
        assert [(t["percent"], t["gross_minor"], t["vat_minor"]) for t in content["taxes"]] == [
            ("20", 24000, 4000),
            (None, 8400, 0),
        ]
        assert (content["net_minor"], content["vat_minor"]) == (28400, 4000)
        assert sum(line["net_minor"] for line in content["lines"]) == 28400
        assert [line["percent"] for line in content["lines"]] == [None, None]

    def test_the_rate_of_the_day_of_supply_counts(self, order, press, vat, unit):
        vat("20")
        unit.vat_rates.create(valid_from=timezone.localdate(), percent=15)
        assert issue(order, press).content["taxes"][0]["percent"] == "15"

    def test_payments_are_shown_and_slips_are_not(self, order, press):
        today = timezone.localdate()
        for amount_minor in (5000, 3100):
            taken = take_payment(
                order, amount_minor=amount_minor, method="cash", received_on=today, **press()
            )
        reverse_payment(taken, why="Typed twice.", **press())
        content = issue(order, press).content
        assert content["payments"] == [
            {"on": today.isoformat(), "amount_minor": 5000, "how": "cash"}
        ]
        assert (content["paid_minor"], content["balance_minor"]) == (5000, 27400)


class TestRefusals:
    def test_what_the_law_wants_is_asked_for_at_once(self, order, press, unit):
        Unit.objects.filter(pk=unit.pk).update(trader_name=" ")
        Family.objects.update(address="")
        with pytest.raises(ActionRefused) as refused:
            issue(order, press)
        assert refused.value.reasons == (
            "Write the trader's own name under Unit.",
            "Write the family's address: an invoice must show it.",
        )

    def test_nothing_to_charge(self, order, press):
        add_reduction(order, label="A gift", amount_minor=32400, **press())
        with pytest.raises(ActionRefused, match="comes to nothing"):
            issue(order, press)

    def test_one_stands_already(self, order, press):
        issue(order, press)
        with pytest.raises(ActionRefused, match="Invoice INV-0001 stands"):
            issue(order, press)

    def test_a_registered_trader_without_a_rate(self, order, press, unit, vat):
        vat()
        unit.vat_rates.all().delete()
        with pytest.raises(ActionRefused, match="No rate of VAT is written down"):
            issue(order, press)

    def test_another_countrys_tax_goes_by_its_own_name_and_currency(self, order, press, vat, unit):
        vat("23")
        facts = {"country": "IE", "currency": "EUR", "tax_name": "CBL"}
        Unit.objects.filter(pk=unit.pk).update(**facts)
        content = issue(order, press).content
        assert (content["currency"], content["tax_name"]) == ("EUR", "CBL")
        # 324.00 with 23 % holds 60.5853... → 60.59
        assert (content["net_minor"], content["vat_minor"]) == (26341, 6059)

    def test_an_unregistered_trader_speaks_of_no_tax_of_its_own_name_either(
        self, order, press, unit
    ):
        Unit.objects.filter(pk=unit.pk).update(tax_name="GST")
        add_reduction(order, label="Less GST", amount_minor=100, **press())
        with pytest.raises(ActionRefused, match=r"Less GST.*speaks of GST"):
            issue(order, press)

    def test_an_unregistered_unit_abroad_has_its_plain_invoice(self, order, press, unit):
        Unit.objects.filter(pk=unit.pk).update(country="IE", currency="EUR")
        assert issue(order, press).content["currency"] == "EUR"

    def test_a_character_the_font_lacks(self, order, press):
        Family.objects.update(contact_name="Sam 木村")
        with pytest.raises(ActionRefused, match="The paper's font has no “木”"):
            issue(order, press)


class TestNumbers:
    def test_each_unit_and_kind_counts_for_itself(self, order, press):
        elsewhere = makers.a_unit(name="Elsewhere")
        makers.prices(elsewhere)
        family = makers.a_family(elsewhere)
        wanted = [(family.children.get(), Limb.LEFT_HAND)]
        other = open_job(family, wanted=wanted, promised_on=None, **press()).order
        first = issue(order, press)
        notes = [credit(first, press), credit(issue(order, press), press)]
        assert [note.number for note in notes] == ["CRN-0001", "CRN-0002"]
        assert issue(other, press).number == "INV-0001"
        assert issue(order, press).number == "INV-0003"

    def test_a_refused_invoice_uses_no_number(self, order, press):
        with pytest.raises(ActionRefused):
            issue_with(order, press, label="incl. VAT")
        drop_line(order, line_pk=order.lines.last().pk, **press())
        assert issue(order, press).number == "INV-0001"

    def test_a_write_that_dies_between_number_and_paper_leaves_neither(
        self, order, press, monkeypatch
    ):
        def power_cut(*_args, **_facts):
            raise OSError("the power went")

        with monkeypatch.context() as patch:
            patch.setattr(Invoice.objects, "create", power_cut)
            with pytest.raises(OSError, match="the power went"):
                issue(order, press)
        assert not NumberSeries.objects.filter(last__gt=0).exists()
        assert issue(order, press).number == "INV-0001"

    def test_the_same_key_is_one_paper(self, order, press):
        once = press()
        first = issue_invoice(order, **once)
        assert issue_invoice(order, **once) == first
        again = press()
        note = credit_invoice(first, why="Wrong.", **again)
        assert credit_invoice(first, why="Wrong.", **again) == note
        assert Invoice.objects.count() == 2
        assert order.job.events.filter(what__in=("issue_invoice", "credit_invoice")).count() == 2


def issue_with(order, press, label):
    add_reduction(order, label=label, amount_minor=1, **press())
    return issue(order, press)


class TestFrozen:
    def test_it_says_tomorrow_what_it_said(self, order, press, unit):
        invoice = issue(order, press)
        before = dict(Invoice.objects.get().content)
        unit.name, unit.address = "Another name", "Elsewhere"
        unit.save()
        Family.objects.update(contact_name="Somebody else")
        order.price_list.prices.update(amount_minor=1)
        order.lines.update(unit_minor=1)
        invoice.refresh_from_db()
        assert invoice.content == before
        assert invoice.total_minor == 32400

    def test_it_cannot_be_saved_again_or_deleted(self, order, press):
        invoice = issue(order, press)
        invoice.why = "changed"
        with pytest.raises(TypeError, match="credit note"):
            invoice.save()
        with pytest.raises(TypeError, match="credit note"):
            invoice.delete()


class TestCredit:
    def test_it_mirrors_the_invoice_to_the_penny(self, order, press, vat):
        # SI 1995/2518 reg 15C [src]
        vat()
        invoice = issue(order, press)
        note = credit(invoice, press)
        assert (note.total_minor, note.vat_minor) == (-32400, -5400)
        assert note.content["credits"] == {
            "number": "INV-0001",
            "issued_on": invoice.issued_on.isoformat(),
        }
        assert note.content["why"] == "Wrong address."
        assert note.content["lines"] == invoice.content["lines"]
        assert "payments" not in note.content
        assert current_invoice(order) is None

    def test_afterwards_the_order_changes_and_is_invoiced_anew(self, order, press):
        credit(issue(order, press), press)
        add_reduction(order, label="A fault in the oak", amount_minor=2400, **press())
        again = issue(order, press)
        assert (again.number, again.total_minor) == ("INV-0002", 30000)

    def test_not_twice_not_a_note_not_without_a_reason(self, order, press):
        invoice = issue(order, press)
        with pytest.raises(ActionRefused, match="Write why"):
            credit(invoice, press, why="")
        note = credit(invoice, press)
        with pytest.raises(ActionRefused, match="CRN-0001 has cancelled it"):
            credit(invoice, press)
        with pytest.raises(ActionRefused, match="cannot be cancelled"):
            credit(note, press)


def test_the_day_of_the_hand_over_is_the_date_of_supply(unit, press):
    now = timezone.now()
    job = makers.job_at("handed_over", unit, at=now)
    gone = timezone.localdate(job.stage_since)
    assert gone < timezone.localdate(now)
    invoice = issue(job.order, press)
    assert (invoice.supplied_on, invoice.issued_on) == (gone, timezone.localdate(now))


@pytest.mark.django_db(transaction=True)
def test_two_who_invoice_at_once_leave_no_gap_and_no_double():
    unit = makers.a_unit()
    by = makers.owner_of(unit)
    makers.prices(unit)
    family = makers.a_family(unit)
    child = family.children.get()
    now = timezone.now()
    orders = [
        open_job(
            family,
            wanted=[(child, limb)],
            promised_on=None,
            by=by,
            at=now,
            key=uuid.uuid4(),
        ).order
        for limb in Limb
        for _ in range(3)
    ]

    def issue(number):
        for order in orders[number::4]:
            issue_invoice(order, by=by, at=now, key=uuid.uuid4())

    assert everybody(4, issue) == [None] * 4
    numbers = sorted(Invoice.objects.values_list("number", flat=True))
    assert numbers == [f"INV-{n:04}" for n in range(1, len(orders) + 1)]
    assert NumberSeries.objects.get().last == len(orders)
