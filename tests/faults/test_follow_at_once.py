"""Several visitors of the families' pages in the same moment."""

import uuid

import pytest
from django.utils import timezone

from orders.family_page import private_links
from orders.family_page.models import FamilyLink, LinkMiss
from orders.family_page.private_links import make_link, revoke_link
from orders.order.actions import choose_look
from orders.order.models import Order
from studio.stages import Stage
from studio.versions import EditedMeanwhile
from tests import makers
from tests.crowd import everybody

PEOPLE = 6


@pytest.mark.django_db(transaction=True)
def test_no_miss_is_lost_between_guesses_at_once():
    at = timezone.now()

    def guess(_number):
        for _ in range(3):
            with pytest.raises(private_links.LinkUnknown):
                private_links.open_link("wrong", came_from="192.0.2.7", at=at)

    assert everybody(PEOPLE, guess) == [None] * PEOPLE
    assert [miss.tries for miss in LinkMiss.objects.all()] == [3 * PEOPLE]


@pytest.mark.django_db(transaction=True)
def test_of_many_phones_choosing_at_once_one_is_noted_and_the_others_are_told():
    unit = makers.a_unit()
    job = makers.job_at(Stage.DRYING, unit)
    prices = {price.label: price for price in job.order.price_list.prices.all()}
    seen = job.order.frame.version

    def choose(number):
        choose_look(
            Order.objects.get(job=job),
            backing=prices["Deep blue felt" if number % 2 else "Chalk linen"],
            finish=prices["Limed oak"],
            seen_version=seen,
            by=None,
            at=timezone.now(),
            key=uuid.uuid4(),
        )

    came = everybody(PEOPLE, choose)
    assert came.count(None) == 1
    assert sum(isinstance(each, EditedMeanwhile) for each in came) == PEOPLE - 1
    assert job.events.filter(what="choose_look").count() == 1
    assert Order.objects.get(job=job).frame.version == seen + 1


@pytest.mark.django_db(transaction=True)
def test_revoking_at_once_is_one_revocation():
    unit = makers.a_unit()
    by = makers.owner_of(unit)
    link, token = make_link(makers.a_job(unit), by=by, at=timezone.now())

    def revoke(_number):
        seen = FamilyLink.objects.get(pk=link.pk)
        revoke_link(seen, by=by, at=timezone.now(), key=uuid.uuid4())

    came = everybody(PEOPLE, revoke)
    assert came.count(None) == 1
    assert link.job.events.filter(what="revoke_link").count() == 1
    with pytest.raises(private_links.LinkUnknown):
        private_links.open_link(token, came_from="192.0.2.7", at=timezone.now())
