"""Private links: made, opened, revoked, run out; and what the wrong ones are told: nothing."""

import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from orders.family_page import private_links
from orders.family_page.models import FamilyLink, LinkMiss
from orders.family_page.private_links import revoke_link
from studio.stages import ActionRefused, Stage
from tests import makers
from tests.orders.family_page.following import a_link, follow, rows_written

pytestmark = pytest.mark.django_db


@pytest.fixture
def now(monkeypatch):
    """The clock stands still, so that no minute ends within a test; `now.value` moves it."""

    class Clock:
        value = timezone.now().replace(second=5)

    monkeypatch.setattr(timezone, "now", lambda: Clock.value)
    return Clock


def told(response):
    """Everything that an answer tells a visitor."""
    return (
        response.status_code,
        response.content,
        dict(response.headers),
        {name: morsel.OutputString() for name, morsel in response.cookies.items()},
    )


def test_a_link_is_kept_as_its_digest_and_leaves_one_event(unit):
    job = makers.job_at(Stage.DRYING, unit)
    link, token = a_link(job)
    assert len(token) >= 43  # 32 random bytes
    assert token not in str(FamilyLink.objects.values_list())
    assert link.token_sha256 == private_links.digest(token)
    assert job.events.filter(what="make_link").count() == 1
    assert token not in str(job.events.values_list())


def test_two_links_differ_and_both_open(unit):
    job = makers.a_job(unit)
    tokens = [a_link(job)[1] for _ in range(2)]
    assert len(set(tokens)) == 2
    assert [Client().get(f"/follow/{token}/").status_code for token in tokens] == [303, 303]


@pytest.mark.parametrize("days", [0, -1, 367])
def test_a_link_opens_for_a_day_to_a_year(unit, days):
    job = makers.a_job(unit)
    with pytest.raises(ActionRefused, match="1 to 366 days"):
        a_link(job, days=days)
    assert not job.family_links.exists()


def test_the_token_is_exchanged_for_a_cookie_of_this_link_alone(unit, parent, settings):
    settings.HTTPS = True
    link, token = a_link(makers.a_job(unit))
    answer = parent.get(f"/follow/{token}/")
    home = f"/follow/at/{link.public_id}/"
    assert (answer.status_code, answer["Location"]) == (303, home)
    assert list(answer.cookies) == ["caststead_follow"]
    cookie = answer.cookies["caststead_follow"]
    assert cookie["path"] == home
    assert cookie["httponly"] is True
    assert cookie["samesite"] == "Lax"
    assert cookie["secure"] is True
    days_kept = cookie["max-age"] / 86400
    assert 119.9 < days_kept <= 120
    assert token not in answer["Location"]
    assert parent.get(home).status_code == 200


def test_without_https_the_cookie_is_not_secure_only(unit, parent, settings):
    settings.HTTPS = False
    _, token = a_link(makers.a_job(unit))
    assert not parent.get(f"/follow/{token}/").cookies["caststead_follow"]["secure"]


def test_links_that_do_not_open_are_told_one_and_the_same(unit, now):
    job = makers.a_job(unit)
    _, good = a_link(job)
    _, expired = a_link(job, days=1, at=timezone.now() - timedelta(days=1))
    revoked_link, revoked = a_link(job)
    revoke_link(revoked_link, by=makers.owner_of(unit), at=timezone.now(), key=uuid.uuid4())
    expired_page = Client()
    expired_page.cookies["caststead_follow"] = expired
    answers = [
        Client().get(address)
        for address in (
            "/follow/never-made/",
            f"/follow/{expired}/",
            f"/follow/{revoked}/",
            f"/follow/{good[:-1]}{'A' if good[-1] != 'A' else 'B'}/",
            f"/follow/{good}/more/",
            "/follow/",
            f"/follow/at/{uuid.uuid4()}/",
            f"/follow/at/{revoked_link.public_id}/",
            "/follow/at/nonsense/",
        )
    ]
    answers.append(expired_page.get(f"/follow/at/{revoked_link.public_id}/"))
    assert {answer.status_code for answer in answers} == {404}
    assert b"This link no longer opens" in answers[0].content
    first = told(answers[0])
    for answer in answers:
        assert told(answer) == first
    assert Client().get(f"/follow/{good}/").status_code == 303


def test_an_address_that_lost_its_last_stroke_still_opens(unit, parent):
    link, token = a_link(makers.a_job(unit))
    assert parent.get(f"/follow/{token}")["Location"] == f"/follow/at/{link.public_id}/"
    assert reverse("family_page:arrive", args=[token]) == f"/follow/{token}/"


def test_a_link_stops_at_its_last_moment(unit, now, parent):
    _, token = a_link(makers.a_job(unit), days=1)
    home = parent.get(f"/follow/{token}/")["Location"]
    now.value += timedelta(days=1) - timedelta(seconds=1)
    parent.cookies["caststead_follow"] = token  # the browser would have dropped it by itself
    assert parent.get(home).status_code == 200
    now.value += timedelta(seconds=1)
    assert parent.get(home).status_code == 404
    assert Client().get(f"/follow/{token}/").status_code == 404


def test_a_revoked_link_closes_the_page_that_was_open(unit):
    job = makers.a_job(unit)
    browser = follow(job)
    other = follow(job)
    link = job.family_links.get(public_id=browser.home.split("/")[3])
    revoke_link(link, by=makers.owner_of(unit), at=timezone.now(), key=uuid.uuid4())
    assert browser.get(browser.home).status_code == 404
    assert other.get(other.home).status_code == 200


def test_revoking_twice_is_one_event_and_again_is_refused(unit):
    job = makers.a_job(unit)
    link, _ = a_link(job)
    press = {"by": makers.owner_of(unit), "at": timezone.now(), "key": uuid.uuid4()}
    revoke_link(link, **press)
    revoke_link(link, **press)
    assert job.events.filter(what="revoke_link").count() == 1
    with pytest.raises(ActionRefused, match="revoked already"):
        revoke_link(link, **press | {"key": uuid.uuid4()})


def test_one_familys_cookie_opens_no_other_job(unit):
    mine, theirs = (follow(makers.a_job(unit)) for _ in range(2))
    mine.cookies["caststead_follow"] = mine.cookies["caststead_follow"].value
    assert mine.get(theirs.home).status_code == 404
    assert mine.post(f"{theirs.home}look/", {"key": uuid.uuid4()}).status_code == 404


def test_reading_writes_nothing(unit):
    """Mail scanners open links, and prefetch what they find behind them."""
    job = makers.job_at(Stage.READY, unit)
    _, token = a_link(job)
    browser = Client()
    with CaptureQueriesContext(connection) as arriving:
        home = browser.get(f"/follow/{token}/")["Location"]
    with CaptureQueriesContext(connection) as reading:
        assert browser.get(home).status_code == 200
    with CaptureQueriesContext(connection) as looking:
        browser.head(home)
        browser.options(home)
    assert reading.captured_queries
    assert rows_written(arriving) == rows_written(reading) == rows_written(looking) == []


def test_a_wrong_link_writes_only_what_the_throttle_counts(db, unit):
    with CaptureQueriesContext(connection) as missing:
        Client().get("/follow/wrong/")
    assert rows_written(missing)
    assert all('"orders_linkmiss"' in sql for sql in rows_written(missing))


def miss(times, **extra):
    return [Client().get("/follow/wrong/", **extra) for _ in range(times)]


def test_after_twenty_misses_in_a_minute_good_and_bad_wait_alike(unit, now, parent):
    _, token = a_link(makers.a_job(unit))
    home = parent.get(f"/follow/{token}/")["Location"]
    assert {answer.status_code for answer in miss(20)} == {404}
    bad, good, page = (
        Client().get("/follow/wrong/"),
        Client().get(f"/follow/{token}/"),
        parent.get(home),
    )
    assert bad.status_code == 429
    assert bad["Retry-After"] == "60"
    assert b"Please wait a minute" in bad.content
    assert told(bad) == told(good) == told(page)
    now.value += timedelta(minutes=1)
    assert parent.get(home).status_code == 200


def test_misses_are_counted_by_address_and_no_address_is_kept(unit, now):
    miss(20, REMOTE_ADDR="192.0.2.7")
    assert miss(1, REMOTE_ADDR="192.0.2.7")[0].status_code == 429
    assert miss(1, REMOTE_ADDR="192.0.2.8")[0].status_code == 404
    assert "192.0.2" not in str(LinkMiss.objects.values_list())


def test_one_ipv6_network_is_one_visitor_and_mapped_ipv4_is_not(unit, now):
    for last in range(20):
        miss(1, REMOTE_ADDR=f"2001:db8:1:2::{last:x}")
    assert miss(1, REMOTE_ADDR="2001:db8:1:2:ffff::1")[0].status_code == 429
    assert miss(1, REMOTE_ADDR="2001:db8:1:3::1")[0].status_code == 404
    miss(20, REMOTE_ADDR="::ffff:192.0.2.7")
    assert miss(1, REMOTE_ADDR="192.0.2.7")[0].status_code == 429
    assert miss(1, REMOTE_ADDR="::ffff:192.0.2.8")[0].status_code == 404


def test_behind_our_proxy_the_visitor_is_the_one_it_saw(unit, now, settings):
    settings.BEHIND_PROXY = True
    # What stands before the last comma is whatever the visitor wrote.
    for turn in range(20):
        miss(1, REMOTE_ADDR="10.0.0.1", HTTP_X_FORWARDED_FOR=f"203.0.113.{turn}, 192.0.2.7")
    again = miss(1, REMOTE_ADDR="10.0.0.1", HTTP_X_FORWARDED_FOR="192.0.2.7")
    other = miss(1, REMOTE_ADDR="10.0.0.1", HTTP_X_FORWARDED_FOR="192.0.2.8")
    assert (again[0].status_code, other[0].status_code) == (429, 404)


def test_without_a_proxy_nobody_chooses_their_address(unit, now):
    for turn in range(20):
        miss(1, HTTP_X_FORWARDED_FOR=f"203.0.113.{turn}")
    assert miss(1, HTTP_X_FORWARDED_FOR="203.0.113.99")[0].status_code == 429


def test_an_address_that_is_none_is_counted_too(unit, now):
    miss(20, REMOTE_ADDR="")
    assert miss(1, REMOTE_ADDR="")[0].status_code == 429


def test_old_misses_are_swept(unit, now):
    miss(3)
    now.value += timedelta(hours=1, minutes=2)
    miss(1)
    assert [row.tries for row in LinkMiss.objects.all()] == [1]


def test_finding_a_link_is_two_queries(unit, django_assert_num_queries):
    _, token = a_link(makers.a_job(unit))
    with django_assert_num_queries(2):
        link = private_links.open_link(token, came_from="192.0.2.7", at=timezone.now())
        assert link.job.family.name
        assert link.job.unit.name
