"""Whatever a family reads can be translated: the page at each step, papers, messages, refusals.

All of it is read in the language in brackets: a word outside of them is a sentence without gettext.
"""

import secrets
import uuid
from datetime import timedelta
from urllib.parse import parse_qs, urlsplit

import pytest
from django.core.files.base import ContentFile
from django.template.loader import render_to_string
from django.test import Client
from django.utils import timezone

from bookings.consent import wording
from bookings.consent.actions import give_consent
from bookings.consent.models import Consent
from bookings.photos.models import Photo
from orders.balances import reminder_letters
from orders.balances.accounts import account_of, account_pdf
from orders.family_page.staff_views import _mail
from orders.invoices import invoice_pdf
from orders.invoices.actions import credit_invoice, credit_part, issue_invoice
from orders.order import actions as order_actions
from orders.order_page.actions import call_off
from orders.order_page.confirmation import confirmation_pdf
from orders.payments.actions import pay_back, reverse_payment, take_payment
from orders.quotes import quote_pdf
from orders.quotes.actions import accept_quote
from orders.quotes.precontract_information import Terms, information
from orders.quotes.quotation import offer_of
from orders.receipts.actions import give_receipt
from orders.vouchers.actions import pay_by_voucher, sell_voucher
from orders.vouchers.voucher_pdf import voucher_card
from production.frames import design
from studio import units
from studio.jobs import actions as jobs_actions
from studio.stages import Stage
from studio.web import paper
from tests import makers
from tests.brackets import data, reading_brackets, untranslated, untranslated_in
from tests.orders.family_page.following import follow

pytestmark = pytest.mark.django_db

CODED = {"postcode": "1ß 9ß"}


@pytest.fixture
def unit(db):
    """A unit whose every word is data."""
    unit = makers.a_unit(
        name=data("Hollin Casts"),
        trader_name=data("Marian Hollin"),
        address=data("4 Kiln Yard\nAshmouth"),
        payment_words=data("Bank transfer to us"),
        tax_name=data("VAT"),
        **CODED,
    )
    for price in makers.prices(unit).prices.all():
        price.label = data(price.label)
        price.save()
        if price.option:
            price.option.name = price.label
            price.option.save()
    makers.frame_range(unit)
    return unit


def a_family(unit, *children):
    family = makers.a_family(
        unit,
        name=data("Okafor"),
        children=children or (data("Ada"),),
        contact_name=data("Sam Okafor"),
        address=data("9 Quay Row"),
        **CODED,
    )
    makers.let_make(family, by=makers.owner_of(unit), at=timezone.now() - timedelta(days=30))
    Consent.objects.update(wording=data("as it was asked"))  # in the language of that day
    return family


@pytest.fixture
def job(unit):
    """A booked and priced job of two children, with a sitting to come."""
    family = a_family(unit, data("Ada"), data("Tom"))
    job = makers.a_job(unit, family=family)
    job.pieces.filter(limb="right_hand").update(child=family.children.last())
    return job


def press(job):
    return {"by": makers.owner_of(job.unit), "at": timezone.now(), "key": uuid.uuid4()}


def pay(job, amount_minor, method="card"):
    paid = {"amount_minor": amount_minor, "method": method, "received_on": timezone.localdate()}
    return take_payment(job.order, **paid, **press(job))


def back(job, amount_minor):
    paid = {"amount_minor": amount_minor, "method": "cash", "paid_on": timezone.localdate()}
    return pay_back(job.order, **paid, why=data("Too much"), **press(job))


def read(browser, address=None):
    with reading_brackets():
        answer = browser.get(address or browser.home)
    assert "[" in answer.content.decode()
    return untranslated_in(answer.content.decode())


def sent(browser, address, **facts):
    """The answer to a form of the page, with what follows a redirect."""
    facts = {"key": str(uuid.uuid4())} | facts
    with reading_brackets():
        answer = browser.post(f"{browser.home}{address}/", facts, follow=True)
    return answer.status_code, untranslated_in(answer.content.decode())


def look_of(order, backing, finish, **more):
    priced = {price.kind: price for price in (backing, finish)}
    chosen = {kind: str(price.pk) for kind, price in priced.items()}
    return {**chosen, "version": order.frame.version, **more}


def test_the_check_itself_finds_what_is_forgotten():
    assert untranslated("[Paid [Mon] 3 [Dec]] by Samß 3 cm") == ["by"]
    assert untranslated_in('<p title="How">[Paid]<b>now</b></p>') == ["How", "now"]


def test_the_page_at_each_step(unit):
    at = timezone.now() - timedelta(days=12)
    starts_at = makers.next_morning(unit, at)
    by = makers.owner_of(unit)
    job = makers.a_job(unit, family=a_family(unit), by=by, at=at, starts_at=starts_at)
    browser = follow(job)
    assert read(browser) == []
    for step in makers._WAY:
        step(job, by, at)
        job.refresh_from_db()
        assert read(browser) == [], job.stage
    assert job.stage == Stage.HANDED_OVER


def test_the_page_before_a_price_and_a_sitting(unit):
    family = a_family(unit)
    wanted = [(family.children.get(), "left_hand")]
    unit.price_lists.update(valid_from=timezone.localdate() + timedelta(days=9))
    by = makers.owner_of(unit)
    job = jobs_actions.open_job(
        family, wanted=wanted, promised_on=None, by=by, at=timezone.now(), key=uuid.uuid4()
    )
    assert read(follow(job)) == []


def test_the_page_of_a_sitting_to_come_and_of_a_promise_that_moved(unit, job):
    browser = follow(job)
    assert read(browser) == []
    today = timezone.localdate()
    for days in (40, 60, 50):
        later = today + timedelta(days=days)
        jobs_actions.promise(job, promised_on=later, why=data("Frost"), **press(job))
        assert read(browser) == []
    type(job).objects.update(promised_on=today - timedelta(days=400))
    assert read(browser) == []


def test_the_page_with_payments_photographs_and_papers(unit, job):
    for purpose in ("keep", "show"):
        consent = give_consent(
            job.family, purpose=purpose, given_by=data("Sam"), **press(job), wording_version=""
        )
    Consent.objects.update(wording=data("as it was asked"))
    Photo.objects.create(
        unit=unit,
        job=job,
        kind="finished",
        file=ContentFile(makers.a_jpeg(), "frame.jpg"),
        width_px=640,
        height_px=480,
        taken_at=timezone.now(),
        by=makers.owner_of(unit),
    )
    pay(job, 5000)
    browser = follow(job)
    assert read(browser) == []
    invoice = issue_invoice(job.order, **press(job))
    assert read(browser) == []
    pay(job, 14900, "transfer")
    assert read(browser) == []
    credit_part(invoice, amount_minor=1000, why=data("A friend"), **press(job))
    back(job, 500)
    assert read(browser) == []
    assert sent(browser, f"consents/{consent.pk}/withdraw") == (200, [])


def test_the_page_of_a_cancelled_job(unit, job):
    pay(job, 5000)
    call_off(job, seen=Stage.BOOKED, keep_minor=2000, why=data("They moved"), **press(job))
    browser = follow(job)
    assert read(browser) == []
    back(job, 3000)
    assert read(browser) == []
    for answer, facts in (("accept", {}), ("decline", {"words": ""})):
        facts |= {"fingerprint": offer_of(job.order, timezone.localdate()).fingerprint}
        assert sent(browser, answer, **facts) == (409, [])


def test_the_look_chosen_wrongly_too_late_and_well(unit, job):
    order = job.order
    linen, felt = order.price_list.prices.filter(kind="backing")
    waxed, limed = order.price_list.prices.filter(kind="finish")
    browser = follow(job)
    assert sent(browser, "look") == (422, [])
    assert sent(browser, "look", **look_of(order, felt, limed)) == (200, [])
    order_actions.choose_look(
        order, backing=linen, finish=waxed, seen_version=order.frame.version + 1, **press(job)
    )
    assert sent(browser, "look", **look_of(order, felt, limed, version=1)) == (409, [])
    type(job).objects.update(stage=Stage.FRAMING)
    assert sent(browser, "look", **look_of(order, felt, limed)) == (409, [])
    assert read(browser) == []
    type(job).objects.update(stage=Stage.DRYING)
    issue_invoice(order, **press(job))
    assert sent(browser, "look", **look_of(order, felt, limed)) == (409, [])


def test_the_price_accepted_declined_and_changed(unit, job):
    def fingerprint():
        return offer_of(job.order, timezone.localdate()).fingerprint

    browser = follow(job)
    assert sent(browser, "accept") == (422, [])
    assert sent(browser, "accept", key="x", fingerprint="x") == (422, [])
    assert sent(browser, "accept", fingerprint="another") == (409, [])
    words = data("Only the hands")
    assert sent(browser, "decline", fingerprint=fingerprint(), words=words) == (200, [])
    assert sent(browser, "decline", fingerprint=fingerprint()) == (409, [])
    assert sent(browser, "decline", fingerprint=fingerprint(), words="x" * 300) == (422, [])
    assert sent(browser, "accept", fingerprint=fingerprint()) == (200, [])
    assert sent(browser, "accept", fingerprint=fingerprint()) == (409, [])
    assert sent(browser, "decline", fingerprint=fingerprint()) == (409, [])
    felt = job.order.price_list.prices.filter(kind="backing").last()
    order_actions.choose_look(job.order, backing=felt, finish=None, seen_version=1, **press(job))
    assert read(browser) == []
    issue_invoice(job.order, **press(job))
    assert sent(browser, "accept", fingerprint=fingerprint()) == (409, [])


def test_consent_taken_back(unit, job):
    browser = follow(job)
    consent = job.family.consents.get()
    address = f"consents/{consent.pk}/withdraw"
    assert sent(browser, address, key="x") == (409, [])
    assert sent(browser, address) == (200, [])
    give_consent(job.family, purpose="keep", given_by=data("Sam"), **press(job), wording_version="")
    Consent.objects.update(wording=data("as it was asked"))
    keep = job.family.consents.get(purpose="keep")
    assert sent(browser, f"consents/{keep.pk}/withdraw") == (200, [])


def test_a_link_that_does_not_open(owner):
    visitor = Client()
    address = f"/follow/{secrets.token_urlsafe(32)}/"
    assert set(read(visitor, address)) <= {"Caststead"}
    for _ in range(20):
        visitor.get(address)
    assert visitor.get(address).status_code == 429
    assert set(read(visitor, address)) <= {"Caststead"}


@pytest.mark.parametrize("page", ["400", "403_csrf", "500"])
def test_the_pages_of_what_goes_wrong(page):
    with reading_brackets():
        assert set(untranslated_in(render_to_string(f"{page}.html"))) <= {"Caststead"}


@pytest.fixture
def printed(monkeypatch):
    """The papers drawn, as the HTML that would become a PDF."""
    found = []

    def pdf(template, context, **_):
        found.append(render_to_string(template, context))
        return b"%PDF"

    monkeypatch.setattr(paper, "pdf", pdf)
    return found


@pytest.mark.parametrize("registered", [False, True])
def test_each_paper(unit, job, vat, printed, registered):
    if registered:
        vat()
        type(unit).objects.update(vat_number="123 4567 89")
    backing = job.order.price_list.prices.filter(kind="backing").last()
    with reading_brackets():
        order = order_actions.choose_look(
            job.order,
            backing=backing,
            finish=None,
            plate_words=data("Ada"),
            layout_words=data("side by side"),
            seen_version=1,
            **press(job),
        )
        offer = offer_of(order, timezone.localdate())
        quote = accept_quote(
            order, method="link", fingerprint=offer.fingerprint, **press(job) | {"by": None}
        )
        sold = {
            "value_minor": 3000,
            "price_minor": 3000,
            "method": "card",
            "buyer": data("Jo"),
            "for_whom": data("Ada"),
            "words": data("From all of us"),
            "expires_on": timezone.localdate() + timedelta(days=700),
            "taxed_when_sold": True,
        }
        voucher = sell_voucher(unit, facts=sold, **press(job))
        payment = pay(job, 5000)
        pay_by_voucher(order, code=voucher.code, amount_minor=2000, **press(job))
        reverse_payment(pay(job, 100, "cash"), why=data("Wrong"), **press(job))
        receipt = give_receipt(payment, **press(job))
        invoice = issue_invoice(order, **press(job))
        part = credit_part(invoice, amount_minor=1000, why=data("A friend"), **press(job))
        rest = credit_invoice(invoice, why=data("Anew"), **press(job))
        for each in (invoice, part, rest):
            invoice_pdf.render_pdf(each.content)
        invoice_pdf.receipt_pdf(receipt.content)
        quote_pdf.quote(quote)
        voucher_card(voucher)
        confirmation_pdf(order, timezone.now())
        job.refresh_from_db()
        type(job).objects.update(stage=Stage.READY)
        confirmation_pdf(type(order).objects.get(), timezone.now())
        account_pdf(account_of(job.family), unit, timezone.localdate())
    assert len(printed) == 9
    for html in printed:
        assert untranslated_in(html) == [], html


def test_how_to_hang_a_heavy_frame():
    with reading_brackets():
        assert [untranslated(each) for each in design.hanging(9000).cautions] == [[], []]


def test_each_letter(unit, job):
    with reading_brackets():
        mail = parse_qs(urlsplit(_mail(job, "https://example.com/follow/x/")).query)
        assert untranslated(mail["subject"][0] + mail["body"][0]) == []
        invoice = reminder_letters.OpenInvoice("INV-0001", "RF18 CY8Y", "£3.00", "1", "2")
        for tone in ("kind", "plain", "firm"):
            letter = reminder_letters.reminder(
                invoice,
                tone=tone,
                contact=data("Sam"),
                children=units.join_names([data("Ada"), data("Tom")]),
                payment_words=data("Bank transfer"),
                signed=data("Marian"),
            )
            assert untranslated(" ".join(letter)) == []


@pytest.mark.parametrize("country", ["GB", "DE"])
@pytest.mark.parametrize("words", ["", "ß"])
def test_all_that_is_told_before_an_order(country, words):
    named = dict.fromkeys(Terms.__slots__, words) | {"total": "£3", "country": country}
    with reading_brackets():
        for each in information(Terms(**named)):
            assert untranslated(f"{each.heading} {each.words} {each.law}") == []


def test_the_questions_of_consent_are_asked_and_kept_in_the_familys_language(unit, job):
    with reading_brackets():
        for purpose in wording.WORDINGS:
            asked = wording.find_wording(purpose)
            assert untranslated(f"{asked.question} {asked.text}") == []
        given = give_consent(job.family, purpose="keep", given_by="Sam", **press(job))
    given.refresh_from_db()
    assert untranslated(given.wording) == []


def test_a_price_accepted_in_one_language_is_the_same_in_another(unit, job):
    felt = job.order.price_list.prices.filter(kind="backing").last()
    with reading_brackets():
        order = order_actions.choose_look(
            job.order, backing=felt, finish=None, seen_version=1, **press(job)
        )
        offer = offer_of(order, timezone.localdate())
    in_english = offer_of(order, timezone.localdate())
    assert offer.fingerprint == in_english.fingerprint
    assert offer.content == in_english.content
    assert offer.information != in_english.information
    with reading_brackets():
        answer = press(job) | {"by": None, "fingerprint": offer.fingerprint}
        quote = accept_quote(order, method="link", **answer)
    assert in_english.is_of(quote)
    assert quote.precontract_information[0]["heading"] == "[The whole price]"
    backing = quote.content["lines"][1]
    assert backing["label"] == f"Backing: {felt.label}"
    assert backing["words"] == f"[Backing: {felt.label}]"
