"""The working week, days that are other, and the bank holidays of gov.uk."""

import uuid
from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from production.working_week import actions, calendar, holidays
from production.working_week.models import OtherDays, WorkingWeek
from studio.stages import ActionRefused
from studio.versions import EditedMeanwhile
from tests.parts.markup import folded

WEEK, EDIT, ADD = (
    reverse(f"production:{name}")
    for name in ("working_week", "edit_working_week", "add_other_days")
)

USUAL = {
    field.name: field.default
    for field in WorkingWeek._meta.fields
    if field.name not in ("id", "unit", "version")
}


def sent(**changed):
    facts = USUAL | {"version": 1, "courier_days": ["tuesday", "friday"]} | changed
    return {name: value for name, value in facts.items() if value is not None}


def off(unit, by, first_on, last_on, minutes=0, **more):
    facts = {"by": by.user, "at": timezone.now(), "key": uuid.uuid4()} | more
    return actions.add_other_days(
        unit, first_on=first_on, last_on=last_on, minutes=minutes, **facts
    )


# gov.uk, "UK bank holidays", England and Wales 2027 [src]
PUBLISHED_2027 = ["01-01", "03-26", "03-29", "05-03", "05-31", "08-30", "12-27", "12-28"]


def test_the_bank_holidays_of_2027_are_those_of_gov_uk():
    found = holidays.between("england-and-wales", date(2027, 1, 1), date(2027, 12, 31))
    assert [f"{day:%m-%d}" for day, _ in found] == PUBLISHED_2027
    scots = [f"{day:%m-%d}" for day, _ in holidays.between("scotland", *_year(2027))]
    assert "01-04" in scots
    assert "03-29" not in scots
    assert holidays.between("none", *_year(2027)) == []
    assert holidays.known_until("none") is None


def _year(number):
    return date(number, 1, 1), date(number, 12, 31)


@pytest.mark.django_db
def test_beyond_the_years_that_are_known_the_page_warns(unit):
    last = holidays.known_until("england-and-wales")
    assert last >= date(2028, 12, 31)
    assert calendar.calendar(unit, last - timedelta(days=400)).unknown_after is None
    assert calendar.calendar(unit, last - timedelta(days=300)).unknown_after == last
    WorkingWeek.objects.create(unit=unit, division="none")
    assert calendar.calendar(unit, last - timedelta(days=300)).unknown_after is None


@pytest.mark.django_db
def test_days_off_are_bank_holidays_and_ones_own_but_not_those_that_are_worked(unit, owner):
    off(unit, owner, date(2027, 4, 5), date(2027, 4, 7))
    off(unit, owner, date(2027, 5, 3), date(2027, 5, 3), minutes=120)
    found = calendar.calendar(unit, date(2027, 3, 28))
    assert found.days_off >= {date(2027, 3, 29), *(date(2027, 4, d) for d in (5, 6, 7))}
    assert date(2027, 5, 3) not in found.days_off
    assert found.opened_minutes == {date(2027, 5, 3): 120}


@pytest.mark.django_db
def test_the_week_is_written_by_the_form_and_the_second_of_two_is_told(unit, owner):
    assert "240 minutes" in folded(owner.get(WEEK).content.decode())
    response = owner.post(EDIT, sent(monday=0, saturday=120, cure_days=3))
    assert response.status_code == 302
    week = calendar.working_week(unit)
    assert (week.minutes, week.cure_days) == ((0, 240, 240, 240, 240, 120, 0), 3)
    assert week.courier_weekdays == {1, 4}
    again = owner.post(EDIT, sent(monday=60))
    assert again.status_code == 409
    assert "saved this after you opened it" in folded(again.content.decode())
    assert calendar.working_week(unit).monday == 0


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("changed", "words"),
    [
        (dict.fromkeys(WorkingWeek.DAYS, 0), "open one day"),
        ({"monday": 961}, "at most 960"),
        ({"moulds_per_pour": 0}, "at least 1"),
        ({"setup_minutes": 180, "framing_minutes_per_day": 180}, "more than setting up"),
        (dict.fromkeys(WorkingWeek.DAYS, 30), "long enough to pour"),
        ({"cure_days": ""}, "still needed"),
    ],
)
def test_a_week_that_cannot_be_comes_back_with_a_sentence(unit, owner, changed, words):
    response = owner.post(EDIT, sent(**changed))
    assert response.status_code in (409, 422)
    assert words in folded(response.content.decode())
    assert not WorkingWeek.objects.exists()


@pytest.mark.django_db
def test_days_are_noted_once_and_taken_back(unit, owner):
    on = timezone.localdate() + timedelta(days=9)
    facts = {"first_on": on, "last_on": on, "minutes": 0, "why": "The sea", "key": uuid.uuid4()}
    for _ in range(2):
        assert owner.post(ADD, facts).status_code == 302
    days = OtherDays.objects.get()
    assert "The sea" in folded(owner.get(WEEK).content.decode())
    drop = reverse("production:drop_other_days", args=[days.pk])
    for _ in range(2):
        assert owner.post(drop, {"key": uuid.uuid4()}).status_code == 302
    page = folded(owner.get(WEEK).content.decode())
    assert "The sea" not in page
    assert "No days off noted" in page
    assert OtherDays.objects.get().dropped_at
    assert owner.get(drop).status_code == 405


@pytest.mark.django_db
def test_days_in_the_past_or_in_the_wrong_order_come_back(unit, owner):
    today = timezone.localdate()
    for first, last in ((5, 3), (-9, -8)):
        facts = {
            "first_on": today + timedelta(days=first),
            "last_on": today + timedelta(days=last),
            "minutes": 0,
            "key": uuid.uuid4(),
        }
        assert owner.post(ADD, facts).status_code == 422
    with pytest.raises(ActionRefused, match="more than a year"):
        off(unit, owner, today, today + timedelta(days=400))
    assert not OtherDays.objects.exists()


@pytest.mark.django_db
def test_a_helper_and_a_stranger_do_not_change_the_week(unit, owner, helper, stranger):
    today = timezone.localdate()
    days = off(unit, owner, today, today)
    drop = reverse("production:drop_other_days", args=[days.pk])
    assert helper.post(EDIT, sent()).status_code == 403
    assert helper.post(drop, {"key": uuid.uuid4()}).status_code == 403
    assert stranger.post(drop, {"key": uuid.uuid4()}).status_code == 404
    days.refresh_from_db()
    assert days.dropped_at is None
    with pytest.raises(EditedMeanwhile):
        actions.edit_working_week(unit, facts=USUAL, seen_version=7)
