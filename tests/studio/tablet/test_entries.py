"""What a tablet sends: every entry once, in its order, each by itself; and every no in words."""

import json
import logging
import uuid
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.jobs.models import JobEvent
from studio.tablet import entries
from studio.tablet.models import TabletEntry
from tests import makers
from tests.studio.tablet.sending import Tablet, post

pytestmark = pytest.mark.django_db

ENTRIES, PACK = "studio:keep_entries", "studio:pack"

NOBODYS = uuid.UUID("6a3f4c1e-0000-4000-8000-000000000000")


@pytest.fixture
def sitting(unit, owner):
    job = makers.a_job(unit, pieces=2, by=owner.user)
    return job.sittings.get()


@pytest.fixture
def left(sitting):
    return sitting.prints.first()


@pytest.fixture
def right(sitting):
    return sitting.prints.last()


@pytest.fixture
def tablet(owner):
    return Tablet(owner)


def states(answers):
    return [answer["state"] for answer in answers]


def logged(sitting):
    return JobEvent.objects.filter(job=sitting.job, what="log_print").count()


class TestTheDoor:
    """Six questions of the four addresses that want a log-in."""

    def addresses(self):
        return [
            ("get", reverse(PACK)),
            ("post", reverse(ENTRIES)),
            ("post", reverse("studio:settle_entry", args=[NOBODYS])),
        ]

    def test_whoever_is_logged_out_is_told_in_json_and_never_sent_to_a_page(self, parent, unit):
        for method, url in self.addresses():
            response = getattr(parent, method)(url)
            assert response.status_code == 401
            assert response.json() == {"why": "Log in again: nothing on this tablet is lost."}
            assert response["Cache-Control"] == "no-store"

    def test_the_office_and_who_has_no_studio_have_no_tablet(self, office, unit):
        nobody = Client()
        nobody.force_login(makers.User.objects.create_user("alone@example.com", "x", name="Alone"))
        for client in (office, nobody):
            for method, url in self.addresses():
                response = getattr(client, method)(url)
                assert (response.status_code, list(response.json())) == (403, ["why"])

    def test_the_other_method_is_refused(self, owner):
        for method, url in self.addresses():
            other = {"get": owner.post, "post": owner.get}[method]
            refused = other(url)
            assert refused.status_code == 405
            assert refused["Allow"] in ("GET", "POST", "GET, POST")
            assert "This address takes" in refused.json()["why"]

    @pytest.mark.parametrize("name", ["tablet", "tablet_manifest", "tablet_worker"])
    def test_the_page_and_its_files_are_only_fetched(self, parent, unit, name):
        refused = parent.post(reverse(f"studio:{name}"))
        assert (refused.status_code, refused["Allow"]) == (405, "GET")
        assert refused.json() == {"why": "This address takes GET only."}

    def test_a_press_without_its_token_is_refused_in_json(self, owner, unit):
        strict = Client(enforce_csrf_checks=True)
        strict.force_login(owner.user)
        tablet = Tablet(strict)
        response = tablet.post()
        assert (response.status_code, list(response.json())) == (403, ["why"])
        strict.get(reverse(PACK))
        token = strict.cookies["csrftoken"].value
        sent = {"device": tablet.device, "sent_at": tablet.now().isoformat(), "entries": []}
        allowed = strict.post(
            reverse(ENTRIES),
            json.dumps(sent),
            content_type="application/json",
            headers={"x-csrftoken": token},
        )
        assert allowed.status_code == 200

    def test_the_session_ends_on_the_way_and_nothing_is_lost(self, owner, tablet, left, sitting):
        tap = tablet.tap(left)
        owner.logout()
        assert tablet.post(tap).status_code == 401
        assert logged(sitting) == 0
        owner.force_login(owner.user)
        assert states(tablet.send(tap)) == ["kept"]
        assert logged(sitting) == 1


class TestABatch:
    def test_an_entry_is_kept_with_all_that_was_said(self, tablet, left, owner):
        tap = tablet.tap(left, tray="3", minutes_ago=10)
        [answer] = tablet.send(tap)
        assert answer == {
            "key": tap["key"],
            "state": "kept",
            "sentence": "",
            "version": 2,
            "theirs": None,
            "theirs_words": "",
            "resolve": None,
        }
        row = TabletEntry.objects.get()
        assert (str(row.device), row.seq, str(row.key)) == (tablet.device, 1, tap["key"])
        assert (row.kind, row.sitting, row.facts) == ("impression", left.sitting_id, tap["facts"])
        assert (row.by, row.subject, row.wrote) == (owner.user, f"print {left.pk}", True)
        left.refresh_from_db()
        assert (left.outcome, left.tray) == ("taken", "3")

    def test_the_same_batch_twice_is_one_write_and_the_same_answers(
        self, tablet, left, right, sitting
    ):
        taps = [tablet.tap(left, "repeat", tries=1), tablet.tap(right), tablet.tap(left, tries=1)]
        first = tablet.send(*taps)
        assert tablet.send(*taps) == first
        assert tablet.send(taps[1]) == [first[1]]
        assert (TabletEntry.objects.count(), logged(sitting)) == (3, 3)
        left.refresh_from_db()
        assert (left.outcome, left.tries) == ("taken", 1)

    def test_the_same_key_with_other_content_is_shown_and_overwrites_nothing(
        self, tablet, left, sitting
    ):
        tap = tablet.tap(left, tray="3")
        tablet.send(tap)
        other = {**tap, "facts": {**tap["facts"], "outcome": "not_today", "tray": ""}}
        [answer] = tablet.send(other)
        assert (answer["key"], answer["state"]) == (tap["key"], "conflict")
        assert answer["theirs"] == tap["facts"]
        assert answer["theirs_words"] == "taken, tray 3"
        left.refresh_from_db()
        assert left.outcome == "taken"
        assert tablet.send(other) == [answer]
        assert tablet.send(tap)[0]["state"] == "kept"
        assert (TabletEntry.objects.count(), logged(sitting)) == (2, 1)

    def test_the_other_content_can_still_be_chosen(self, tablet, left):
        tap = tablet.tap(left)
        tablet.send(tap)
        [answer] = tablet.send({**tap, "facts": {**tap["facts"], "outcome": "not_today"}})
        assert tablet.choose(answer, "mine").json()["state"] == "settled"
        left.refresh_from_db()
        assert left.outcome == "not_today"

    def test_one_that_is_refused_holds_up_none_of_the_others(self, tablet, left, right):
        answers = tablet.send(
            tablet.tap(left, "smudged"),
            tablet.tap(left, tries=1, length_mm=12),
            tablet.entry("juggle", left.sitting_id, {}),
            tablet.tap(right),
        )
        assert states(answers) == ["refused", "refused", "refused", "kept"]
        assert all(answer["sentence"] for answer in answers[:3])
        assert [answer["resolve"] for answer in answers[:3]] == [a["key"] for a in answers[:3]]
        right.refresh_from_db()
        assert right.outcome == "taken"

    @pytest.mark.parametrize(
        "broken",
        [
            {"key": "none"},
            {"seq": 0},
            {"seq": None},
            {"seq": True},
            {"seq": 2**40},
            {"sitting": "seven"},
            {"seen": -1},
            {"facts": []},
            {"facts": {"note": "x" * 9000}},
            {"said_at": "yesterday"},
            {"said_at": "2026-11-25T10:00:00"},
            {"said_at": 7},
        ],
        ids=str,
    )
    def test_what_cannot_be_read_is_told_and_not_kept(self, tablet, left, right, broken):
        answers = tablet.send({**tablet.tap(left), **broken}, tablet.tap(right))
        assert states(answers) == ["refused", "kept"]
        assert (answers[0]["resolve"], answers[0]["sentence"] != "") == (None, True)
        assert TabletEntry.objects.count() == 1

    def test_what_is_no_entry_at_all_is_told(self, tablet, right):
        answers = tablet.send("nonsense", None, [1], tablet.tap(right))
        assert states(answers) == ["refused", "refused", "refused", "kept"]

    @pytest.mark.parametrize(
        "body", ["", "{", "[]", '"x"', '{"entries": NaN}', '{"a": 1e999}', "[" * 5000, b"\xff\xfe"]
    )
    def test_a_batch_that_is_no_json_is_refused_in_words(self, owner, body):
        response = post(owner, reverse(ENTRIES), body)
        assert (response.status_code, list(response.json())) == (400, ["why"])

    @pytest.mark.parametrize(
        "more",
        [
            {"device": "mine"},
            {"sent_at": None},
            {"sent_at": "soon"},
            {"entries": {}},
            {"entries": [1] * 51},
        ],
        ids=lambda more: str(more)[:40],
    )
    def test_a_batch_without_its_frame_is_refused_whole(self, tablet, left, more):
        response = tablet.post(tablet.tap(left), **more)
        assert (response.status_code, list(response.json())) == (400, ["why"])
        assert TabletEntry.objects.count() == 0

    def test_characters_that_no_database_takes_are_left_out(self, owner, tablet, left):
        tap = tablet.tap(left, note="NOTE")
        sent = json.dumps(
            {"device": tablet.device, "sent_at": tablet.now().isoformat(), "entries": [tap]}
        ).replace("NOTE", r"a \u0000fist\ud800")
        assert post(owner, reverse(ENTRIES), sent).json()["answers"][0]["state"] == "kept"
        assert post(owner, reverse(ENTRIES), sent).json()["answers"][0]["state"] == "kept"
        left.refresh_from_db()
        assert left.note == "a fist?"

    def test_an_entry_that_trips_us_is_kept_as_it_was_said(
        self, tablet, left, right, monkeypatch, caplog
    ):
        def stumble(unit, entry, **who):
            makers.a_family(unit, name="Halfway")
            raise ZeroDivisionError

        broken = entries.Kind(stumble, None, owner_only=False, choosable=False)
        monkeypatch.setitem(entries._kinds, "arrive", broken)
        caplog.set_level(logging.CRITICAL, "studio.tablet.actions")
        arrived = tablet.entry("arrive", left.sitting_id, {"who": "Sam"})
        answers = tablet.send(arrived, tablet.tap(right))
        assert states(answers) == ["refused", "kept"]
        row = TabletEntry.objects.get(kind="arrive")
        assert row.facts == {"who": "Sam"}
        assert not row.unit.families.filter(name="Halfway").exists()


class TestWhoSaidIt:
    def test_who_tapped_is_kept_beside_who_sent_it(self, tablet, helper, unit, owner, left):
        tablet.send(tablet.tap(left) | {"tapped_by": helper.user.pk})
        row = unit.tablet_entries.get()
        assert (row.by, row.tapped_by) == (owner.user, helper.user)
        assert row.said_by == f"{helper.user} (sent by {owner.user})"
        left.refresh_from_db()
        assert left.said_by == owner.user  # whoever was logged in answers for it

    def test_a_stranger_is_never_named_by_a_tablet(self, tablet, stranger, unit, left):
        assert states(tablet.send(tablet.tap(left) | {"tapped_by": stranger.user.pk})) == ["kept"]
        row = unit.tablet_entries.get()
        assert (row.tapped_by, row.said_by) == (None, str(row.by))

    def test_who_tapped_it_lends_no_rights(self, helper, owner, unit, sitting):
        makers.prices(unit)
        paid = {"amount_minor": 100, "method": "cash"}
        tablet = Tablet(helper)
        said = tablet.entry("deposit", sitting, paid, tapped_by=owner.user.pk)
        assert states(tablet.send(said)) == ["refused"]

    def test_what_waits_is_told_with_both_names(self, tablet, helper, unit, sitting, left, owner):
        Tablet(owner).send(Tablet(owner).tap(left, "not_today"))
        tablet.send(tablet.tap(left) | {"tapped_by": helper.user.pk})
        (waits,) = entries.unsettled_by_sitting(unit, [sitting.pk])[sitting.pk]
        assert waits["by"] == f"{helper.user} (sent by {owner.user})"


class TestAnotherStudiosTablet:
    def test_what_was_said_for_another_studio_is_left_on_the_tablet(
        self, tablet, stranger, left, unit
    ):
        said = tablet.tap(left)
        tablet.client = stranger
        refused = tablet.post(said, unit=unit.pk)
        assert refused.status_code == 403
        assert "another studio" in refused.json()["why"]
        assert not TabletEntry.objects.exists()

    def test_at_home_it_is_taken_in(self, owner, tablet, left, unit):
        assert tablet.pack()["unit"]["pk"] == unit.pk
        assert tablet.pack()["me"]["pk"] == owner.user.pk
        assert tablet.post(tablet.tap(left), unit=unit.pk).status_code == 200


class TestTheOrder:
    def test_a_tap_that_comes_late_never_undoes_a_later_one(self, tablet, left, sitting):
        first, second = tablet.tap(left, "repeat", tries=1), tablet.tap(left, tries=1)
        assert states(tablet.send(second)) == ["kept"]
        [answer] = tablet.send(first)
        assert (answer["state"], answer["version"]) == ("kept", 2)
        assert answer["sentence"] == "Your later entry counts."
        left.refresh_from_db()
        assert (left.outcome, logged(sitting)) == ("taken", 1)

    def test_a_number_used_twice_is_kept_all_the_same(self, tablet, left, right):
        one, two = tablet.tap(left), tablet.tap(right)
        two["seq"] = one["seq"]
        assert states(tablet.send(one, two)) == ["kept", "kept"]
        assert list(TabletEntry.objects.order_by("pk").values_list("seq", flat=True)) == [1, None]


class TestTheClock:
    @pytest.mark.parametrize("hours_fast", [0, 7, -11, 24 * 365 * 20])
    def test_a_clock_that_is_wrong_tells_the_right_time(self, owner, left, hours_fast):
        tablet = Tablet(owner, hours_fast=hours_fast)
        before = timezone.now()
        tablet.send(tablet.tap(left, minutes_ago=90))
        row = TabletEntry.objects.get()
        told = row.at - (before - timedelta(minutes=90))
        assert abs(told) < timedelta(seconds=20)
        assert abs(row.said_at - row.at - timedelta(hours=hours_fast)) < timedelta(seconds=20)
        left.refresh_from_db()
        assert left.taken_at == row.at
        assert JobEvent.objects.get(what="log_print").at == row.at

    def test_nothing_was_said_in_the_future(self, tablet, left):
        tablet.send(tablet.tap(left, minutes_ago=-600))
        assert TabletEntry.objects.get().at <= timezone.now()

    @pytest.mark.parametrize("said_at", ["0001-01-01T00:00:00+00:00", "9999-12-31T23:59:59+00:00"])
    def test_the_ends_of_the_calendar_do_no_harm(self, owner, left, said_at):
        tablet = Tablet(owner, hours_fast=5)
        response = tablet.post({**tablet.tap(left), "said_at": said_at})
        assert response.json()["answers"][0]["state"] in ("kept", "refused")


class TestTwoWhoDiffer:
    @pytest.fixture
    def others(self, helper):
        return Tablet(helper)

    def test_two_who_say_the_same_agree(self, tablet, others, left, sitting):
        assert states(tablet.send(tablet.tap(left, tray="3"))) == ["kept"]
        assert states(others.send(others.tap(left, tray="3"))) == ["kept"]
        assert logged(sitting) == 1

    def test_two_who_speak_of_different_limbs_do_not_differ(self, tablet, others, left, right):
        assert states(tablet.send(tablet.tap(left))) == ["kept"]
        assert states(others.send(others.tap(right, "not_today"))) == ["kept"]

    def test_the_first_stands_and_the_second_is_shown_both(
        self, tablet, others, left, owner, sitting
    ):
        tablet.send(tablet.tap(left, tray="3"))
        [answer] = others.send(others.tap(left, "not_today", tries=2))
        assert (answer["state"], answer["version"]) == ("conflict", 2)
        assert answer["theirs"]["outcome"] == "taken"
        assert answer["theirs"]["said_by"] == str(owner.user)
        assert answer["theirs_words"] == "taken, tray 3"
        assert str(owner.user) in answer["sentence"]
        assert answer["resolve"] == answer["key"]
        left.refresh_from_db()
        assert (left.outcome, logged(sitting)) == ("taken", 1)
        [waits] = tablet.pack()["visit"]["sittings"][0]["unsettled"]
        assert (waits["key"], waits["mine_words"]) == (answer["key"], "not today, tried twice")
        assert waits["can_choose"] is True

    def test_who_was_told_may_say_otherwise(self, tablet, others, left):
        [told] = tablet.send(tablet.tap(left))
        assert states(others.send(others.tap(left, "not_today", seen=told["version"]))) == ["kept"]
        left.refresh_from_db()
        assert (left.outcome, left.version) == ("not_today", 3)

    def test_ones_own_earlier_taps_count_as_known(self, tablet, left):
        taps = [tablet.tap(left, "repeat", tries=tries, seen=1) for tries in (1, 2, 3)]
        assert states(tablet.send(*taps)) == ["kept"] * 3
        assert states(tablet.send(tablet.tap(left, tries=3, seen=1))) == ["kept"]
        left.refresh_from_db()
        assert (left.outcome, left.tries, left.version) == ("taken", 3, 5)

    def test_what_lies_between_ones_own_taps_is_not_known(self, tablet, others, left):
        tablet.send(tablet.tap(left, "repeat", tries=1))
        others.send(others.tap(left, "not_today", seen=2))
        [answer] = tablet.send(tablet.tap(left, tries=1, seen=1))
        assert (answer["state"], answer["theirs"]["outcome"]) == ("conflict", "not_today")

    def test_the_desk_is_a_person_too(self, tablet, left, owner):
        url = reverse("bookings:log_print", args=[left.pk])
        owner.post(url, {"key": uuid.uuid4(), "outcome": "not_today"})
        [answer] = tablet.send(tablet.tap(left))
        assert (answer["state"], answer["theirs"]["outcome"]) == ("conflict", "not_today")

    def test_a_later_tap_takes_the_place_of_one_that_waits(self, tablet, others, left):
        tablet.send(tablet.tap(left))
        others.send(others.tap(left, "repeat", tries=1), others.tap(left, "not_today", tries=1))
        rows = TabletEntry.objects.filter(device=others.device).order_by("pk")
        assert [(row.state, row.choice) for row in rows] == [("settled", "later"), ("conflict", "")]
        assert states(others.send(others.tap(left, "not_today", seen=2))) == ["kept"]
        assert not TabletEntry.objects.unsettled().exists()


class TestChoosing:
    @pytest.fixture
    def conflict(self, tablet, helper, left):
        tablet.send(tablet.tap(left, tray="3"))
        others = Tablet(helper)
        [answer] = others.send(others.tap(left, "not_today"))
        assert answer["state"] == "conflict"
        return answer

    def test_theirs_leaves_what_stands(self, tablet, conflict, left, sitting):
        settled = tablet.choose(conflict, "theirs").json()
        assert (settled["state"], settled["theirs"], settled["resolve"]) == ("settled", None, None)
        left.refresh_from_db()
        assert (left.outcome, logged(sitting)) == ("taken", 1)

    def test_mine_takes_its_place(self, tablet, conflict, left, sitting, owner):
        settled = tablet.choose(conflict, "mine").json()
        assert (settled["state"], settled["version"]) == ("settled", 3)
        left.refresh_from_db()
        assert (left.outcome, left.said_by, logged(sitting)) == ("not_today", owner.user, 2)
        row = TabletEntry.objects.get(key=conflict["key"])
        assert (row.choice, row.settled_by) == ("mine", owner.user)

    def test_twice_is_once_and_the_first_choice_stands(self, tablet, conflict, left, sitting):
        first = tablet.choose(conflict, "mine").json()
        assert tablet.choose(conflict, "mine").json() == first
        assert tablet.choose(conflict, "theirs").json() == first
        assert TabletEntry.objects.get(key=conflict["key"]).choice == "mine"
        left.refresh_from_db()
        assert (left.outcome, logged(sitting)) == ("not_today", 2)

    def test_what_was_said_in_between_is_shown_before(self, tablet, conflict, left):
        tablet.send(tablet.tap(left, tray="4", seen=2))
        again = tablet.choose(conflict, "mine").json()
        assert (again["state"], again["version"], again["theirs"]["tray"]) == ("conflict", 3, "4")
        left.refresh_from_db()
        assert left.outcome == "taken"
        assert tablet.choose(again, "mine").json()["state"] == "settled"
        left.refresh_from_db()
        assert left.outcome == "not_today"

    def test_a_refused_entry_is_tried_again_or_put_aside(self, tablet, left, right):
        for clay_print, choice in ((left, "mine"), (right, "theirs")):
            [refused] = tablet.send(tablet.tap(clay_print, "smudged"))
            answer = tablet.choose(refused, choice).json()
            assert answer["state"] == {"mine": "refused", "theirs": "settled"}[choice]
        assert TabletEntry.objects.unsettled().count() == 1

    def test_a_strangers_entry_is_not_there(self, stranger, conflict, left):
        response = Tablet(stranger).choose(conflict, "mine")
        assert (response.status_code, list(response.json())) == (404, ["why"])
        left.refresh_from_db()
        assert left.outcome == "taken"

    @pytest.mark.parametrize(
        "sent", [{}, {"choice": "later"}, {"choice": 1}, {"choice": "mine", "seen": "x"}]
    )
    def test_another_answer_is_refused_in_words(self, owner, conflict, sent):
        response = post(owner, reverse("studio:settle_entry", args=[conflict["key"]]), sent)
        assert (response.status_code, list(response.json())) == (400, ["why"])


def test_a_strangers_sitting_is_not_in_the_diary(stranger, left, sitting):
    theirs = Tablet(stranger)
    nobodys = theirs.entry("finish", 10**6, {"put_off": "split"})
    answers = theirs.send(
        theirs.tap(left), theirs.entry("finish", sitting, {"put_off": "split"}), nobodys
    )
    assert states(answers) == ["refused"] * 3
    assert {answer["sentence"] for answer in answers} == {"This sitting is not in your diary."}
    left.refresh_from_db()
    assert (left.outcome, logged(sitting)) == ("planned", 0)


class TestThePack:
    def test_it_holds_the_visit(self, tablet, sitting, left, right, unit):
        pack = tablet.pack()
        assert pack["unit"]["limb_order"] == ["left_hand", "right_hand", "left_foot", "right_foot"]
        assert pack["me"]["role"] == "owner"
        [held] = pack["visit"]["sittings"]
        assert (held["pk"], held["job"], held["state"]) == (
            sitting.pk,
            sitting.job.reference,
            "planned",
        )
        assert held["family"]["address"] == "9 Quay Row\nAshmouth"
        assert [child["first_name"] for child in held["children"]] == ["Ada"]
        assert [each["pk"] for each in held["impressions"]] == [left.pk, right.pk]
        assert held["impressions"][0]["version"] == 1
        assert held["unsettled"] == []
        sizes = pack["sizes"][str(left.pk)]
        assert 40 < sizes["low_mm"] < sizes["mean_mm"] < sizes["high_mm"] < 120

    def test_the_limbs_come_in_the_studios_own_order(self, tablet, sitting, unit):
        unit.limb_order = "right_hand,left_hand,left_foot,right_foot"
        unit.save()
        [held] = tablet.pack()["visit"]["sittings"]
        assert [each["limb"] for each in held["impressions"]] == ["right_hand", "left_hand"]

    def test_the_owner_sets_that_order(self, owner, unit):
        url = reverse("studio:edit_unit")
        form = owner.get(url).context["form"]
        sent = {
            name: "" if form[name].value() is None else form[name].value() for name in form.fields
        }
        feet_first = "left_foot,right_foot,left_hand,right_hand"
        assert owner.post(url, sent | {"limb_order": "left_hand,left_hand"}).status_code == 422
        assert owner.post(url, sent | {"limb_order": feet_first}).status_code == 302
        unit.refresh_from_db()
        assert unit.limb_order == feet_first
        page = owner.get(reverse("studio:unit")).content.decode()
        assert "left foot, right foot, left hand, right hand" in page

    def test_money_is_the_owners(self, tablet, helper, unit, sitting):
        makers.prices(unit)
        assert Tablet(helper).pack()["money"] is None
        assert tablet.pack()["money"] is not None

    def test_a_stranger_takes_nothing_of_ours_along(self, stranger, sitting):
        assert Tablet(stranger).pack()["visit"]["sittings"] == []

    def test_it_reads_no_more_for_many(self, tablet, unit, owner, constant_queries):
        makers.prices(unit)
        at = timezone.now() - timedelta(days=2)

        def grow():
            for name in ("Moss", "Reed", "Thorne"):
                family = makers.a_family(unit, name=name, children=("Bo", "Cy"))
                makers.a_job(unit, pieces=4, family=family, by=owner.user, at=at)

        makers.a_job(unit, pieces=1, by=owner.user, at=at)
        constant_queries(tablet.pack, grow)


class TestTheShell:
    def test_the_page_tells_nothing_and_brings_the_token(self, parent, unit, sitting):
        response = parent.get(reverse("studio:tablet"))
        assert response.status_code == 200
        assert "csrftoken" in response.cookies
        page = response.content.decode()
        assert unit.name not in page
        assert "manifest.webmanifest" in page

    def test_the_manifest_names_icons_that_are_there(self, parent, unit):
        response = parent.get(reverse("studio:tablet_manifest"))
        assert response["Content-Type"] == "application/manifest+json"
        manifest = response.json()
        assert manifest["start_url"] == manifest["scope"] == "/tablet/"
        from django.contrib.staticfiles import finders  # noqa: PLC0415

        for icon in manifest["icons"]:
            assert finders.find(icon["src"].removeprefix("/static/"))

    def test_the_worker_keeps_what_the_page_needs(self, parent, unit):
        response = parent.get(reverse("studio:tablet_worker"))
        assert response["Content-Type"].startswith("text/javascript")
        assert response["Cache-Control"] == "no-cache"
        first, rest = response.content.decode().split("\n", 1)
        shell = json.loads(first.removeprefix("self.SHELL = ").removesuffix(";"))
        assert rest.strip()
        assert {"/tablet/", "/static/js/sitting/app.js", "/static/css/parts.css"} <= set(
            shell["files"]
        )
        assert "/static/js/sitting/sw.js" not in shell["files"]
        assert len(shell["version"]) == 16

    def test_the_policy_lets_the_worker_and_the_manifest_in(self, parent, unit):
        policy = parent.get(reverse("studio:tablet"))["Content-Security-Policy"]
        assert "worker-src 'self'" in policy
        assert "manifest-src 'self'" in policy
