"""The owner's side of the families' links: made on the job's page, shown once, revoked."""

import re
import uuid
from datetime import timedelta
from urllib.parse import parse_qs, urlsplit

import pytest
from django.test import Client
from django.utils import timezone

from tests import makers
from tests.orders.family_page.following import a_link
from tests.parts.markup import folded

pytestmark = pytest.mark.django_db


@pytest.fixture
def job(unit):
    return makers.a_job(unit)


def make(browser, job, **sent):
    return browser.post(f"/jobs/{job.reference}/links/make/", {"days": 120, **sent})


def revoke(browser, link, **sent):
    return browser.post(f"/links/{link.pk}/revoke/", {"key": uuid.uuid4(), **sent})


def address_in(answer):
    return re.search(r'value="(http://[^"]+/follow/[^"]+/)"', folded(answer.content.decode()))[1]


def test_the_address_is_shown_once_and_opens_the_page(owner, job):
    answer = make(owner, job)
    assert answer.status_code == 200
    address = address_in(answer)
    assert Client().get(urlsplit(address).path).status_code == 303
    assert "no-store" in answer["Cache-Control"]
    token = address.rstrip("/").rsplit("/", 1)[1]
    assert token not in folded(owner.get(job.get_absolute_url()).content.decode())
    assert token not in str(dict(owner.session.items()))
    event = job.events.get(what="make_link")
    assert event.by == owner.user


def test_the_mail_to_the_family_holds_the_address_and_first_names_only(owner, job):
    answer = make(owner, job)
    mail = urlsplit(answer.context["mail"])
    words = parse_qs(mail.query, strict_parsing=True)
    assert (mail.scheme, mail.path) == ("mailto", job.family.email)
    assert address_in(answer) in words["body"][0]
    assert words["subject"] == ["Ada’s casts"]
    assert "+" not in mail.query
    assert f'href="{answer.context["mail"]}"'.replace("&", "&amp;") in folded(
        answer.content.decode()
    )


def test_the_code_to_scan_is_part_of_the_page(owner, job):
    page = folded(make(owner, job).content.decode())
    assert '<img src="data:image/svg+xml' in page
    assert "<svg xmlns" not in page


@pytest.mark.parametrize("days", ["", "0", "9999", "many"])
def test_a_time_that_is_not_offered_comes_back(owner, job, days):
    answer = make(owner, job, days=days)
    assert answer.status_code == 422
    assert not job.family_links.exists()


def test_the_panel_says_how_each_link_stands(owner, job):
    assert b"No link yet." in owner.get(job.get_absolute_url()).content
    a_link(job)
    a_link(job, days=1, at=timezone.now() - timedelta(days=3))
    gone, _ = a_link(job)
    assert revoke(owner, gone).status_code == 302
    page = folded(owner.get(job.get_absolute_url()).content.decode())
    said = " ".join(re.sub(r"<[^>]+>", " ", page).split())
    for words in ("opens until", "run out on", "revoked on"):
        assert said.count(words) == 1
    # Only what opens can be revoked.
    opens = job.family_links.open_at(timezone.now()).get()
    assert re.findall(r"/links/(\d+)/revoke/", page) == [str(opens.pk)]


def test_the_panel_costs_the_same_for_many_links(owner, job, constant_queries):
    a_link(job)
    constant_queries(
        lambda: owner.get(job.get_absolute_url()), lambda: [a_link(job) for _ in range(5)]
    )


def test_a_revoked_link_no_longer_opens(owner, job):
    link, token = a_link(job)
    answer = revoke(owner, link)
    assert answer["Location"] == job.get_absolute_url()
    assert Client().get(f"/follow/{token}/").status_code == 404
    assert job.events.get(what="revoke_link").by == owner.user


def test_the_same_press_twice_is_one_and_a_second_press_is_told(owner, job):
    link, _ = a_link(job)
    key = uuid.uuid4()
    assert [revoke(owner, link, key=key).status_code for _ in range(2)] == [302, 302]
    again = revoke(owner, link)
    assert again.status_code == 409
    assert b"revoked already" in again.content
    assert job.events.filter(what="revoke_link").count() == 1


def test_a_press_without_its_key_revokes_nothing(owner, job):
    link, _ = a_link(job)
    assert revoke(owner, link, key="").status_code == 409
    link.refresh_from_db()
    assert link.revoked_at is None


def test_links_are_not_made_or_revoked_by_reading(owner, job):
    link, _ = a_link(job)
    assert owner.get(f"/jobs/{job.reference}/links/make/").status_code == 405
    assert owner.get(f"/links/{link.pk}/revoke/").status_code == 405
    assert job.family_links.count() == 1


def test_another_studio_finds_neither_job_nor_link(stranger, job):
    link, _ = a_link(job)
    assert make(stranger, job).status_code == 404
    assert revoke(stranger, link).status_code == 404
    assert job.family_links.filter(revoked_at=None).count() == 1


def test_a_helper_sees_no_links_because_the_page_names_the_price(helper, office, job):
    link, _ = a_link(job)
    for person in (helper, office):
        assert make(person, job).status_code == 403
        assert revoke(person, link).status_code == 403
    page = folded(helper.get(job.get_absolute_url()).content.decode())
    assert "links/make/" not in page
    assert "/revoke/" not in page
    assert job.family_links.filter(revoked_at=None).count() == 1


def test_nobody_logged_in_is_led_to_the_log_in(parent, job):
    assert make(parent, job)["Location"].startswith("/log-in/")
    assert not job.family_links.exists()


def test_names_that_are_code_stay_words(owner, unit):
    nasty = "<b onclick=alert(1)>"
    job = makers.a_job(
        unit, family=makers.a_family(unit, name=nasty, children=(nasty,), email="a@example.com")
    )
    assert nasty not in folded(make(owner, job).content.decode())
