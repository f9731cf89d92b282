"""Whoever asks: written down, sent on by the network office, answered once."""

import uuid
from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from bookings.enquiries import actions
from bookings.enquiries.matches import families_like
from bookings.enquiries.models import Enquiry
from studio.families.models import Family
from studio.stages import ActionRefused
from tests import makers
from tests.bookings.doing import AT
from tests.parts.markup import folded

FACTS = {
    "name": "Priya Raman",
    "phone": "07700 900456",
    "email": "",
    "postcode": "CF10 9ZZ",
    "source": "fair",
    "words": "Twins, born in August.",
}

FAMILY = {
    "name": "Raman",
    "contact_name": "Priya Raman",
    "phone": "07700 900456",
    "email": "",
    "address": "",
    "postcode": "",
    "note": "",
}


def taken(unit, at=AT, key=None, **facts):
    return actions.take_enquiry(unit, facts=FACTS | facts, at=at, key=key or uuid.uuid4())


def sent(client, view, *args, **facts):
    return client.post(reverse(f"bookings:{view}", args=args), {"key": uuid.uuid4(), **facts})


class TestActions:
    def test_an_enquiry_waits_from_when_it_came(self, unit):
        enquiry = taken(unit)
        assert list(unit.enquiries.waiting()) == [enquiry]
        assert (enquiry.received_at, enquiry.source) == (AT, "fair")

    def test_the_same_key_twice_is_one(self, unit):
        key = uuid.uuid4()
        assert taken(unit, key=key) == taken(unit, key=key)

    def test_without_a_way_to_answer_it_is_refused(self, unit):
        with pytest.raises(ActionRefused, match="telephone number or an e-mail"):
            taken(unit, phone="")
        with pytest.raises(IntegrityError), transaction.atomic():
            unit.enquiries.create(name="X", received_at=AT, source="web")
        assert not unit.enquiries.exists()

    def test_the_longest_waiting_comes_first(self, unit):
        late, early = taken(unit), taken(unit, at=AT - timedelta(days=1))
        assert list(unit.enquiries.waiting()) == [early, late]

    def test_it_becomes_a_family_once(self, unit, family):
        enquiry = taken(unit)
        for _ in range(2):
            answered = actions.answer_with_family(enquiry, family=family, at=AT)
        assert (answered.family, answered.answer, answered.answered_at) == (family, "family", AT)
        assert not unit.enquiries.waiting().exists()

    def test_a_new_family_is_added_once(self, unit):
        enquiry = taken(unit)
        for _ in range(2):
            answered = actions.answer_with_new_family(enquiry, facts=FAMILY, at=AT)
        assert answered.family == Family.objects.get(name="Raman")

    def test_it_is_declined_once_and_says_why(self, unit):
        enquiry = taken(unit)
        with pytest.raises(ActionRefused, match="Write why"):
            actions.decline_enquiry(enquiry, why=" ", at=AT)
        for why in ("Too far.", "Another word."):
            declined = actions.decline_enquiry(enquiry, why=why, at=AT)
        assert (declined.answer, declined.answer_why) == ("declined", "Too far.")

    def test_an_answer_is_not_answered_otherwise(self, unit, family):
        declined = actions.decline_enquiry(taken(unit), why="Too far.", at=AT)
        accepted = actions.answer_with_family(taken(unit), family=family, at=AT)
        before = list(unit.enquiries.order_by("pk").values()), Family.objects.count()
        for call in (
            lambda: actions.answer_with_family(declined, family=family, at=AT),
            lambda: actions.answer_with_new_family(declined, facts=FAMILY, at=AT),
            lambda: actions.decline_enquiry(accepted, why="No.", at=AT),
        ):
            with pytest.raises(ActionRefused, match="answered already"):
                call()
        assert (list(unit.enquiries.order_by("pk").values()), Family.objects.count()) == before

    def test_another_units_family_is_refused(self, unit):
        other = makers.a_family(makers.a_unit(name="Elsewhere"))
        with pytest.raises(ActionRefused, match="another studio"):
            actions.answer_with_family(taken(unit), family=other, at=AT)

    def test_likely_families_share_a_phone_a_mail_a_postcode_or_the_name(self, unit):
        phone = makers.a_family(unit, name="A", phone="07700 900456", postcode="")
        mail = makers.a_family(unit, name="B", email="P@example.com", postcode="")
        code = makers.a_family(unit, name="C", postcode="cf10 9zz")
        name = makers.a_family(unit, name="Raman-Lee", postcode="")
        makers.a_family(unit, name="D", postcode="")
        enquiry = taken(unit, email="p@example.com")
        assert set(families_like(enquiry)) == {phone, mail, code, name}


class TestPages:
    def test_an_enquiry_is_written_down(self, helper, unit):
        answer = sent(helper, "take_enquiry", **FACTS)
        assert answer.headers["Location"] == reverse("bookings:enquiries")
        assert "Priya Raman" in folded(helper.get(reverse("bookings:enquiries")).content.decode())

    @pytest.mark.parametrize(
        ("changes", "words"),
        [
            ({"phone": ""}, "telephone number or an e-mail address"),
            ({"name": ""}, "This is still needed."),
            ({"email": "not a mail"}, "valid email"),
            ({"source": "the moon"}, "valid choice"),
            ({"key": ""}, "without its key"),
            ({"key": "broken"}, "broken key"),
        ],
    )
    def test_a_bad_form_comes_back_filled(self, owner, unit, changes, words):
        answer = sent(owner, "take_enquiry", **(FACTS | changes))
        assert answer.status_code == 422
        page = folded(answer.content.decode())
        assert words in page
        assert "Twins, born in August." in page
        assert not Enquiry.objects.exists()

    def test_an_empty_form_says_in_words_what_it_needs(self, office, unit):
        answer = office.post(reverse("bookings:send_enquiry"), {"key": uuid.uuid4()})
        assert answer.status_code == 422
        page = folded(answer.content.decode())
        assert "Write a telephone number or an e-mail address to answer to." in page
        assert "Constraint" not in page
        unread = {"key": uuid.uuid4(), "email": "no mail"}
        page = folded(office.post(reverse("bookings:send_enquiry"), unread).content.decode())
        assert "valid email" in page
        assert "Constraint" not in page

    def test_the_office_sends_one_on_and_sees_only_that(self, office, owner, unit):
        makers.a_family(unit, name="Secret")
        taken(unit, name="Somebody Else")
        facts = {name: value for name, value in FACTS.items() if name != "source"}
        answer = office.post(
            reverse("bookings:send_enquiry"), {"key": uuid.uuid4(), **facts}, follow=True
        )
        page = folded(answer.content.decode())
        assert "The enquiry of Priya Raman is with Hollin Casts." in page
        assert "Secret" not in page
        assert "Somebody Else" not in page
        assert unit.enquiries.get(name="Priya Raman").source == "office"
        assert "sent on by the network office" in folded(owner.get("/enquiries/").content.decode())

    def test_only_the_office_sends_on(self, owner, helper, office):
        for person in (owner, helper):
            assert person.get(reverse("bookings:send_enquiry")).status_code == 403
        assert "fair" not in folded(office.get(reverse("bookings:send_enquiry")).content.decode())

    def test_it_is_turned_into_a_prefilled_new_family(self, owner, unit):
        enquiry = taken(unit)
        page = owner.get(reverse("bookings:answer_with_family", args=[enquiry.pk]))
        for value in ("Raman", "Priya Raman", "07700 900456", "Twins, born in August."):
            assert value in folded(page.content.decode())
        answer = sent(owner, "answer_with_new_family", enquiry.pk, **FAMILY, version=1)
        family = unit.families.get(name="Raman")
        assert answer.headers["Location"] == family.get_absolute_url()
        again = sent(owner, "answer_with_new_family", enquiry.pk, **FAMILY, version=1)
        assert again.headers["Location"] == family.get_absolute_url()
        assert unit.families.count() == 1

    def test_a_bad_new_family_comes_back_filled(self, owner, unit):
        enquiry = taken(unit)
        facts = FAMILY | {"phone": "", "contact_name": "Jo Raman"}
        answer = sent(owner, "answer_with_new_family", enquiry.pk, **facts, version=1)
        assert answer.status_code == 422
        assert "Jo Raman" in folded(answer.content.decode())
        assert not unit.families.exists()

    def test_it_is_found_in_the_books(self, owner, unit):
        family, enquiry = makers.a_family(unit, name="Zupan", postcode=""), taken(unit)
        url = reverse("bookings:answer_with_family", args=[enquiry.pk])
        assert "Zupan" not in folded(owner.get(url).content.decode())
        assert "Zupan" in folded(owner.get(url, {"q": "zup"}).content.decode())
        assert "No family answers to" in folded(owner.get(url, {"q": "nobody"}).content.decode())
        answer = owner.post(url, {"family": family.pk})
        assert answer.headers["Location"] == family.get_absolute_url()
        assert "belongs to a family already" in folded(owner.get(url).content.decode())

    @pytest.mark.parametrize("chosen", ["", "0", "x", "99999999", "-1", "²"])
    def test_a_family_that_is_not_there_is_a_404(self, owner, unit, chosen):
        url = reverse("bookings:answer_with_family", args=[taken(unit).pk])
        assert owner.post(url, {"family": chosen}).status_code == 404

    def test_another_units_family_is_a_404(self, owner, unit):
        url = reverse("bookings:answer_with_family", args=[taken(unit).pk])
        other = makers.a_family(makers.a_unit(name="Elsewhere"))
        assert owner.post(url, {"family": other.pk}).status_code == 404

    def test_it_is_put_away_with_a_reason(self, owner, unit):
        enquiry = taken(unit)
        assert sent(owner, "decline_enquiry", enquiry.pk, why="").status_code == 422
        answer = sent(owner, "decline_enquiry", enquiry.pk, why="Too far.")
        assert answer.headers["Location"] == reverse("bookings:enquiries")
        assert "Too far." in folded(owner.get(reverse("bookings:enquiries")).content.decode())

    def test_what_is_answered_is_not_answered_otherwise(self, owner, unit, family):
        enquiry = actions.answer_with_family(taken(unit), family=family, at=AT)
        assert sent(owner, "decline_enquiry", enquiry.pk, why="No.").status_code == 409
        declined = actions.decline_enquiry(taken(unit), why="No.", at=AT)
        again = sent(owner, "answer_with_new_family", declined.pk, **FAMILY, version=1)
        assert again.status_code == 409
        assert "answered already" in folded(again.content.decode())

    def test_the_list_is_empty_in_words_and_late_in_words(self, owner, unit):
        url = reverse("bookings:enquiries")
        assert "Nobody waits for an answer." in folded(owner.get(url).content.decode())
        taken(unit, at=timezone.now() - timedelta(days=3))
        assert "Has waited 3 days for an answer." in folded(owner.get(url).content.decode())

    def test_the_list_reads_the_same_for_one_and_for_many(self, owner, unit, constant_queries):
        taken(unit)
        actions.decline_enquiry(taken(unit), why="No.", at=AT)

        def grow():
            for number in range(200):
                taken(unit, name=f"Person {number}")
            for _ in range(10):
                family = makers.a_family(unit)
                actions.answer_with_family(taken(unit), family=family, at=AT)

        constant_queries(lambda: owner.get(reverse("bookings:enquiries")), grow)
        assert "Page 1 of" in folded(owner.get(reverse("bookings:enquiries")).content.decode())
