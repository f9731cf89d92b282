"""Giving a cast up: its reason, what it cost, and the page that tells what can be learnt."""

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from production.bench import actions
from production.casts.models import Cast
from production.spoilage import actions as spoiled
from production.spoilage import lessons
from production.spoilage.models import Spoilage, SpoilReason
from studio.stages import ActionRefused, Stage
from tests import makers

pytestmark = pytest.mark.django_db

PAGE, ADD = reverse("production:spoilage"), reverse("production:add_spoil_reason")


@pytest.fixture
def today():
    return timezone.localdate()


@pytest.fixture
def reason(unit, today):
    return spoiled.add_spoil_reason(unit, how="break", words="Lifted too early", from_on=today)


@pytest.fixture
def cast(unit):
    return Cast.objects.filter(piece__job=makers.job_at(Stage.DRYING, unit)).first()


def give_up(cast, owner, **changed):
    facts = {"how": "break", "why": "Fell.", "print_whole": "yes", "key": uuid.uuid4()}
    return owner.post(reverse("production:spoil_piece", args=[cast.pk]), facts | changed)


def test_what_a_cast_cost_is_kept_with_its_reason(unit, owner, cast, reason):
    assert give_up(cast, owner, reason=reason.pk).status_code == 302
    account = Spoilage.objects.get()
    assert (account.cast, account.reason, account.remedy) == (cast, reason, "re_pour")
    poured_on = timezone.localdate(cast.pour.poured_at)
    assert account.days_lost == (timezone.localdate() - poured_on).days
    assert account.plaster_g == pytest.approx(cast.pour.plaster_g / 2, abs=0.05)
    assert account.minutes_lost == round(25 / 2 + 10)
    assert account.cost_minor is None  # the stores know no plaster here


def test_a_lost_print_costs_the_sitting_too(unit, owner, cast):
    give_up(cast, owner, print_whole="no")
    account = Spoilage.objects.get()
    assert account.remedy == "new_sitting"
    assert account.minutes_lost == round(25 / 2 + 10 + unit.sitting_minutes)


def test_the_same_press_twice_is_one_account(unit, owner, cast):
    key = uuid.uuid4()
    for _ in range(2):
        give_up(cast, owner, key=key)
    assert Spoilage.objects.count() == 1


def test_the_page_tells_what_it_cost_and_blames_nobody(unit, owner, helper, cast, reason):
    assert "No cast was given up" in owner.get(PAGE).content.decode()
    give_up(cast, owner, reason=reason.pk)
    page = owner.get(PAGE).content.decode()
    for words in (
        "Lifted too early",
        "1 of 2: too few to learn from yet",
        "Poured again",
        "By age",
    ):
        assert words in page
    assert owner.user.name not in page
    assert "£" not in helper.get(PAGE).content.decode()


def test_its_queries_do_not_grow_with_the_casts(unit, owner, cast, constant_queries):
    give_up(cast, owner)

    def grow():
        for other in Cast.objects.filter(piece__job=makers.job_at(Stage.DRYING, unit)):
            give_up(other, owner)

    constant_queries(lambda: lessons.spoilage_statistics(unit, timezone.now()).groups, grow)


def test_casts_of_long_ago_teach_no_more(unit, owner, cast):
    give_up(cast, owner)
    assert lessons.spoilage_statistics(unit, timezone.now()).casts == 2
    assert lessons.spoilage_statistics(unit, timezone.now() + timedelta(days=800)).casts == 0


def test_reasons_are_listed_from_a_day_until_a_day(unit, owner, today, reason):
    sent = {"words": "lifted TOO early", "how": "break", "from_on": today, "key": uuid.uuid4()}
    assert owner.post(ADD, sent).status_code == 409
    sent |= {"words": "Draught from the door", "from_on": today + timedelta(days=3)}
    assert owner.post(ADD, sent).status_code == 302
    assert lessons.reasons_in_use(unit, today) == [reason]
    assert len(lessons.reasons_in_use(unit, today + timedelta(days=3))) == 2
    end = reverse("production:end_spoil_reason", args=[reason.pk])
    for _ in range(2):
        assert owner.post(end, {"key": uuid.uuid4()}).status_code == 302
    assert lessons.reasons_in_use(unit, today) == []
    assert SpoilReason.objects.count() == 2
    assert owner.get(end).status_code == 405


def test_who_may_not_write_reasons(unit, helper, stranger, today, reason):
    end = reverse("production:end_spoil_reason", args=[reason.pk])
    assert helper.post(end, {"key": uuid.uuid4()}).status_code == 403
    assert helper.post(ADD, {}).status_code == 403
    assert stranger.post(end, {"key": uuid.uuid4()}).status_code == 404
    with pytest.raises(ActionRefused):
        spoiled.add_spoil_reason(unit, how="nonsense", words="x", from_on=today)


def test_another_units_reason_is_not_taken(unit, owner, stranger, cast, today, reason):
    other = makers.a_unit(name="Third Casts")
    theirs = spoiled.add_spoil_reason(other, how="break", words="Theirs", from_on=today)
    assert give_up(cast, owner, reason=theirs.pk).status_code == 422
    assert not Spoilage.objects.exists()


def test_a_spoiled_cast_can_be_given_up_by_the_action_without_a_reason(unit, owner, cast):
    who = {"by": owner.user, "at": timezone.now(), "key": uuid.uuid4()}
    actions.spoil_piece(cast, how="bubble", why="Deep.", print_whole=True, **who)
    assert Spoilage.objects.get().reason is None
