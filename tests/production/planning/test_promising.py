"""What the plan answers before a sitting is booked: a promise, the last sitting for a day, a week off."""

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from production.planning import promises
from production.planning.inputs import books
from studio.limbs import Limb
from studio.stages import Stage
from tests import makers
from tests.parts.markup import folded

pytestmark = pytest.mark.django_db
ASK = reverse("production:ask_plan")
PAIR = (Limb.LEFT_HAND, Limb.LEFT_FOOT)


@pytest.fixture
def now():
    return timezone.now()


def test_an_empty_bench_promises_about_two_weeks(unit, now):
    """About two weeks from sitting to finished piece [trade]."""
    sitting_on = timezone.localdate(now) + timedelta(days=7)
    offered = promises.promise(unit, sitting_on, PAIR, now)
    assert offered.likely_on <= offered.on
    assert 7 <= (offered.on - sitting_on).days <= 24


def test_a_rack_that_is_full_promises_later(unit, now):
    sitting_on = timezone.localdate(now) + timedelta(days=1)
    before = promises.promise(unit, sitting_on, PAIR, now)
    unit.rack_places = 2
    unit.save()
    for _ in range(2):
        makers.job_at(Stage.CLAY_REST, unit)
    assert promises.promise(unit, sitting_on, PAIR, now).on > before.on


def test_as_many_are_thought_to_come_as_came_lately(unit, now):
    assert promises.coming(books(unit, now), now) is None, "nobody came yet"
    for _ in range(3):
        makers.job_at(Stage.CLAY_REST, unit)
    found = books(unit, now)
    told = promises.coming(found, now)
    days = [found.today - timedelta(days=number) for number in range(1, 57)]
    assert told.per_day == pytest.approx(3 / sum(found.bench.is_open(day) for day in days))
    long_ago = now + timedelta(days=80)
    assert promises.coming(books(unit, long_ago), long_ago) is None


def test_a_day_gone_by_promises_nothing(unit, now):
    assert promises.promise(unit, timezone.localdate(now) - timedelta(days=1), PAIR, now) is None


def test_the_last_sitting_is_kept_in_time_and_none_is_left_for_tomorrow(unit, owner, now):
    today = timezone.localdate(now)
    wanted_on = today + timedelta(days=40)
    found = promises.last_sitting(unit, wanted_on, PAIR, now)
    assert today <= found.sitting_on < found.on <= wanted_on
    later = promises.promise(unit, found.sitting_on + timedelta(days=7), PAIR, now)
    assert later.on > wanted_on
    page = folded(owner.get(ASK, {"delivery_on": wanted_on, "pieces": 2}).content.decode())
    assert "at the latest" in page
    page = owner.get(ASK, {"delivery_on": today + timedelta(days=1), "pieces": 2})
    assert "It is too late" in folded(page.content.decode())


def test_a_week_off_says_who_would_be_late_and_changes_nothing(unit, owner, now):
    today = timezone.localdate(now)
    job = makers.job_at(Stage.FRAMING, unit)
    job.promised_on = today + timedelta(days=3)
    job.save()
    sent = {"first_on": today, "last_on": today + timedelta(days=9)}
    found = promises.week_off(unit, **sent, now=now)
    assert [each.job for each, _ in found.later] == [job]
    page = folded(owner.get(ASK, sent).content.decode())
    assert "1 job late" in page
    assert not unit.other_days.exists()
    far = {"first_on": today + timedelta(days=200), "last_on": today + timedelta(days=203)}
    assert "Nobody would be late" in folded(owner.get(ASK, far).content.decode())


@pytest.mark.parametrize(
    "asked",
    [
        {"delivery_on": "nonsense", "pieces": 2},
        {"delivery_on": "2026-12-24", "pieces": 0},
        {"first_on": "2020-01-01", "last_on": "2020-01-02"},
        {"first_on": "2090-01-05", "last_on": "2090-01-02"},
    ],
)
def test_a_question_that_cannot_be_comes_back(owner, asked):
    assert owner.get(ASK, asked).status_code == 422


def test_the_booking_form_offers_what_the_plan_keeps_and_books_it(unit, owner, now):
    family = makers.a_family(unit)
    url = reverse("bookings:book_sitting", args=[family.pk])
    day = timezone.localdate(now) + timedelta(days=14)
    page = folded(owner.get(url, {"on": day}).content.decode())
    assert "in nine cases of ten" in page
    child = family.children.get()
    for promise, limb in (("plan", Limb.LEFT_HAND), ("usual", Limb.RIGHT_HAND)):
        expected = promises.promise(unit, day, [limb], now)
        sent = {
            "wanted": [f"{child.pk}-{limb}"],
            "on": day,
            "seen_on": day,
            "clock": "10:00",
            "minutes": 45,
            "place": "home",
            "promise": promise,
            "key": uuid.uuid4(),
        }
        assert owner.post(url, sent).status_code == 302
        usual = day + timedelta(days=unit.promise_days)
        assert unit.jobs.latest("pk").promised_on == (expected.on if promise == "plan" else usual)
        day += timedelta(days=1)
