"""A family says yes or no to its price on its own page: what it read is kept, once, and the owner hears."""

import io
import re
import uuid
from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from orders.family_page.models import FamilyLink
from orders.family_page.private_links import revoke_link
from orders.invoices.actions import issue_invoice
from orders.order.actions import add_reduction, choose_look, reprice
from orders.quotes import precontract_information
from orders.quotes.actions import accept_quote, decline_quote
from orders.quotes.models import FamilyAnswer, Quote
from orders.quotes.quotation import offer_of
from studio import units
from studio.accounts.models import Unit
from studio.jobs.models import JobEvent
from studio.stages import ActionRefused, MovedMeanwhile, MoveRefused, Stage
from tests.crowd import at_once
from tests.orders.family_page.following import follow
from tests.orders.family_page.test_page import words_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def browser(job):
    return follow(job)


def today():
    return units.day(timezone.localdate())


def fingerprint_of(order):
    return offer_of(order, timezone.localdate()).fingerprint


def pressed(order, **more):
    return {"fingerprint": fingerprint_of(order), "at": timezone.now(), "key": uuid.uuid4()} | more


def yes(order, **more):
    return accept_quote(order, how="link", by=None, **pressed(order, **more))


def no(order, words="", **more):
    return decline_quote(order, words=words, **pressed(order, **more))


def sent(order, **more):
    return {"fingerprint": fingerprint_of(order), "key": str(uuid.uuid4())} | more


class TestYes:
    def test_it_keeps_the_price_and_the_words_as_they_stood(self, order, browser):
        page = words_of(browser.get(browser.home))
        assert "Order and agree to pay £324.00" in page
        answer = browser.post(f"{browser.home}accept/", sent(order), follow=True)
        quote = order.quotes.get()
        assert (quote.total_minor, quote.how, quote.by) == (32400, "link", None)
        assert quote.told[0]["words"].startswith("£324.00 altogether.")
        assert {each["version"] for each in quote.told} == {precontract_information.VERSION}
        assert all(each["words"] in page for each in quote.told)
        event = order.job.events.get(what="accept_quote")
        assert (event.by, event.why) == (None, "")
        page = words_of(answer)
        assert f"You ordered here on {today()}: £324.00." in page
        assert "Order and agree to pay" not in page
        assert "You ordered at the price shown." in page

    def test_what_is_told_later_does_not_touch_it(self, order, unit):
        quote = yes(order)
        before = quote.told
        Unit.objects.filter(pk=unit.pk).update(trader_name="Somebody Else", deposit_percent=90)
        assert Quote.objects.get().told == before

    def test_the_same_key_twice_is_one(self, order):
        once = pressed(order)
        first = accept_quote(order, how="link", by=None, **once)
        assert accept_quote(order, how="link", by=None, **once) == first
        assert (Quote.objects.count(), FamilyAnswer.objects.count()) == (1, 1)
        assert order.job.events.filter(what="accept_quote").count() == 1

    @pytest.mark.django_db(transaction=True)
    def test_two_phones_at_once_order_once(self, order):
        said = []

        def press():
            try:
                yes(order)
            except ActionRefused as refused:
                said.append(str(refused))

        at_once(press, press)
        assert Quote.objects.count() == 1
        assert said == ["This very price is accepted already."]

    def test_a_price_that_changed_meanwhile_is_not_ordered(self, order, browser, press):
        stale = sent(order)
        add_reduction(order, label="A friend", amount_minor=1000, **press())
        answer = browser.post(f"{browser.home}accept/", stale)
        assert answer.status_code == 409
        assert "has changed since you opened this page" in words_of(answer)
        assert "Order and agree to pay £314.00" in words_of(answer)
        assert not Quote.objects.exists()

    def test_nor_on_terms_that_changed(self, order, unit):
        stale = pressed(order)
        Unit.objects.filter(pk=unit.pk).update(deposit_percent=90)
        order.unit.refresh_from_db()
        with pytest.raises(MovedMeanwhile):
            accept_quote(order, how="link", by=None, **stale)

    def test_not_while_an_invoice_stands_nor_after_the_end(self, order, browser, press):
        issue_invoice(order, **press())
        with pytest.raises(ActionRefused, match="stands for this order"):
            yes(order)
        assert "Order and agree to pay" not in words_of(browser.get(browser.home))
        type(order.job).objects.update(stage=Stage.HANDED_OVER)
        with pytest.raises(MoveRefused):
            yes(order)
        assert not Quote.objects.exists()

    def test_it_is_ordered_anew_after_a_change(self, order, browser, press):
        yes(order)
        add_reduction(order, label="A friend", amount_minor=1000, **press())
        page = words_of(browser.get(browser.home))
        assert "The price has changed since." in page
        yes(order)
        assert [quote.total_minor for quote in order.quotes.all()] == [32400, 31400]

    def test_a_change_at_the_same_price_is_not_said_to_be_one_of_price(self, order, browser, press):
        yes(order)
        linen = order.price_list.prices.get(label="Chalk linen")
        choose_look(order, backing=linen, finish=None, seen_version=order.frame.version, **press())
        page = words_of(browser.get(browser.home))
        assert "has changed since, at the same price" in page
        assert "The price has changed since." not in page

    def test_a_helper_reads_of_the_answers_and_of_no_price(self, order, helper):
        no(order, "Rather without the felt.")
        yes(order)
        page = words_of(helper.get(order.job.get_absolute_url()))
        assert "Price declined Rather without the felt." in page
        assert "Price accepted" in page
        assert "£" not in page

    def test_nobody_else_can_be_nobody(self, order):
        offer = offer_of(order, timezone.localdate())
        facts = {"unit": order.unit, "accepted_at": timezone.now(), "content": offer.content}
        with pytest.raises(IntegrityError), transaction.atomic():
            order.quotes.create(how="phone", total_minor=1, **facts)


class TestNo:
    def test_it_is_told_and_nothing_else_changes(self, order, browser):
        words = sent(order, words="Only the hands, please.")
        answer = browser.post(f"{browser.home}decline/", words, follow=True)
        said = order.answers.get()
        assert (said.said_yes, said.words, said.total_minor) == (
            False,
            "Only the hands, please.",
            32400,
        )
        assert not Quote.objects.exists()
        page = words_of(answer)
        assert f"You said no: “Only the hands, please.” on {today()}: £324.00." in page
        assert "Order and agree to pay £324.00" in page

    def test_the_same_key_twice_is_one_and_another_is_told(self, order):
        once = pressed(order)
        first = decline_quote(order, words="", **once)
        assert decline_quote(order, words="", **once) == first
        with pytest.raises(ActionRefused, match="said no to this price already"):
            no(order)
        assert FamilyAnswer.objects.count() == 1

    def test_not_to_what_is_ordered(self, order):
        yes(order)
        with pytest.raises(ActionRefused, match="You have ordered at this price"):
            no(order)

    def test_yes_after_no(self, order, browser):
        no(order, "Too much.")
        yes(order)
        assert f"You ordered here on {today()}" in words_of(browser.get(browser.home))


class TestLink:
    @pytest.mark.parametrize("what", ["accept", "decline"])
    def test_a_look_changes_nothing_and_a_broken_form_is_told(self, order, browser, what):
        assert browser.get(f"{browser.home}{what}/").status_code == 405
        assert browser.post(f"{browser.home}{what}/", {}).status_code == 422
        assert browser.post(f"{browser.home}{what}/", sent(order, key="x")).status_code == 422
        assert not FamilyAnswer.objects.exists()
        assert not JobEvent.objects.filter(by=None, what__contains="quote").exists()

    @pytest.mark.parametrize("what", ["accept", "decline"])
    def test_a_link_that_is_revoked_or_run_out_answers_nothing(self, order, browser, by, what):
        link = FamilyLink.objects.get()
        address = f"{browser.home}{what}/"
        assert Client().post(address, sent(order)).status_code == 404
        revoke_link(link, by=by, at=timezone.now(), key=uuid.uuid4())
        assert browser.post(address, sent(order)).status_code == 404
        FamilyLink.objects.update(revoked_at=None, expires_at=timezone.now() - timedelta(days=1))
        assert browser.post(address, sent(order)).status_code == 404
        assert not FamilyAnswer.objects.exists()

    def test_the_paper_says_it_word_for_word(self, order, browser, stranger):
        quote = yes(order)
        found = browser.get(f"{browser.home}orders/{quote.pk}/")
        bare = re.sub(r"\s+", " ", text_of(b"".join(found.streaming_content)))
        assert "£324.00" in bare
        for each in quote.told:
            assert each["words"] in bare
        assert browser.get(f"{browser.home}orders/{quote.pk + 1}/").status_code == 404
        url = reverse("orders:quote_pdf", args=[order.job.reference, quote.pk])
        assert stranger.get(url).status_code == 404


def text_of(data):
    return " ".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages)


class TestOwner:
    def test_it_stands_on_today_until_it_is_noted(self, owner, helper, stranger, order):
        no(order, "Only the hands, please.")
        title = "Says no to the price: Only the hands, please."
        assert title in owner.get("/").content.decode()
        assert title not in helper.get("/").content.decode()
        url = reverse("orders:note_answer", args=[order.job.reference])
        assert (owner.get(url).status_code, helper.post(url).status_code) == (405, 403)
        assert stranger.post(url).status_code == 404
        assert title in owner.get("/").content.decode()
        page = owner.get(order.get_absolute_url()).content.decode()
        assert "The family says no to the price" in page
        assert owner.post(url).status_code == owner.post(url).status_code == 302
        assert title not in owner.get("/").content.decode()

    def test_the_newest_word_counts(self, owner, order):
        no(order)
        yes(order)
        page = owner.get("/").content.decode()
        assert "Has ordered at the price" in page
        assert "Says no" not in page

    def test_the_prices_hold_as_after_any_yes(self, order, press, job):
        yes(order)
        with pytest.raises(ActionRefused, match="The family accepted its price"):
            reprice(job, **press())


class TestTelling:
    def facts(self, **more):
        plain = {
            "studio": "Hollin Casts",
            "trader": "Marian Hollin",
            "address": "4 Kiln Yard, Ashmouth",
            "phone": "01632 960111",
            "email": "hollin@example.com",
            "country": "GB",
            "made": "Ada, left hand",
            "total": "£85.00",
            "tax_name": "",
            "delivery": "",
            "paid": "",
            "deposit": "",
            "deposit_due": "",
            "ready_by": "",
        }
        return precontract_information.Terms(**plain | more)

    def test_what_the_law_wants_told(self):
        """[src] Consumer Contracts Regulations 2013 reg 28(1)(b); Consumer Rights Act 2015 ss. 22-24, 28;
        CMA guidance on deposits; DMCC Act 2024, as the pages of the trade's facts quote them.
        """
        told = {each.heading: each for each in precontract_information.information(self.facts())}
        assert next(iter(told)) == "The whole price"
        assert told["The whole price"].law == "DMCC Act 2024"
        assert "28(1)(b)" in told["No change of mind"].law
        assert "within 30 days" in told["If something is wrong with it"].words
        assert "within 30 days" in told["When it is ready"].words
        assert "really cost us" in told["If you call it off before it is finished"].words
        assert "Marian Hollin, Hollin Casts, 4 Kiln Yard" in told["Who we are"].words

    def test_the_word_of_the_tax_only_where_it_is_charged(self):
        assert "VAT" not in " ".join(
            each.words for each in precontract_information.information(self.facts())
        )
        assert (
            "£85.00 altogether with VAT."
            in precontract_information.information(self.facts(tax_name="VAT"))[0].words
        )

    def test_a_day_a_deposit_and_the_way(self):
        told = precontract_information.information(
            self.facts(
                ready_by="Thu 3 Dec",
                deposit="£20.00",
                deposit_due="now",
                delivery="Brought to your home",
            )
        )
        words = " ".join(each.words for each in told)
        assert "By Thu 3 Dec." in words
        assert "A deposit of £20.00 now, the rest before it goes home." in words
        assert "Brought to your home is in it." in words
        part = " ".join(
            each.words for each in precontract_information.information(self.facts(paid="£20.00"))
        )
        assert "£20.00 is paid already. The rest before it goes home." in part

    def test_another_country_is_told_facts_and_no_british_law(self):
        told = precontract_information.information(self.facts(country="DE"))
        assert not any(each.law for each in told)
        assert told[-1].heading == "Your rights"
