"""What bookings takes in from a tablet, and what the desk shows of it."""

import base64
import hashlib
import json
import os
import uuid
from datetime import timedelta

import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone

from bookings.consent import actions
from bookings.diary import actions as diary_actions
from bookings.photos import cleaning
from bookings.photos.models import Photo
from bookings.sittings import actions as sittings_actions
from bookings.sittings import screens
from bookings.sittings.models import ClayPrint, Sitting
from bookings.tablet import photo_parts
from orders.order.actions import price_job
from orders.order.totals import balance_of
from studio.jobs.actions import leave_off_piece
from studio.jobs.models import Job, JobEvent
from studio.stages import Stage
from studio.tablet.models import TabletEntry
from tests import makers
from tests.bookings.sending import PICTURE, Sending
from tests.makers import details
from tests.parts.markup import folded
from tests.studio.tablet.sending import Tablet

pytestmark = pytest.mark.django_db


@pytest.fixture
def held(unit, owner):
    """A sitting of two hands, tomorrow at ten; the family lets the casts be made."""
    return makers.a_job(unit, pieces=2, by=owner.user).sittings.get()


@pytest.fixture
def limbs(held):
    return screens.prints_of(held)


@pytest.fixture
def tablet(owner):
    return Tablet(owner)


@pytest.fixture
def others(helper):
    return Tablet(helper)


def state(row):
    row.refresh_from_db()
    return row


def taken(tablet, limbs):
    return [tablet.tap(each, tray=str(number)) for number, each in enumerate(limbs, 1)]


def events(held, what):
    return JobEvent.objects.filter(job=held.job, what=what)


class TestArriving:
    def test_who_is_here_and_what_was_gone_through_is_on_the_job(self, tablet, held):
        [answer] = tablet.send(
            tablet.entry(
                "arrive", held, {"who": "Sam, mother", "questions": {"skin": True, "floor": False}}
            )
        )
        assert answer["state"] == "kept"
        assert details(events(held, "arrive").get()) == "Sam, mother; gone through: skin"

    @pytest.mark.parametrize(
        "facts",
        [{}, {"who": " "}, {"who": "x" * 81}, {"who": 7}, {"who": "Sam", "questions": ["skin"]},
         {"who": "Sam", "questions": {"skin": "yes"}}],
    )  # fmt: skip
    def test_without_a_name_it_is_refused(self, tablet, held, facts):
        assert tablet.send(tablet.entry("arrive", held, facts))[0]["state"] == "refused"
        assert not events(held, "arrive").exists()


class TestConsent:
    def word(self, tablet, held, *, yes=True, purpose="keep", minutes_ago=0, **facts):
        said = {"purpose": purpose, "yes": yes, "given_by": "Sam Okafor", "wording_version": ""}
        return tablet.entry("consent", held, said | facts, minutes_ago=minutes_ago)

    def stands(self, held, purpose="keep"):
        return held.job.family.consents.in_force().filter(purpose=purpose).first()

    def test_a_yes_is_written_down_as_it_was_asked(self, tablet, held):
        version = tablet.pack()["visit"]["wordings"]["keep"]["version"]
        tablet.send(self.word(tablet, held, wording_version=version, minutes_ago=30))
        given = self.stands(held)
        assert (given.given_by, given.wording_version) == ("Sam Okafor", version)
        assert timezone.now() - given.given_at > timedelta(minutes=29)

    def test_a_yes_that_stands_is_no_second_one(self, tablet, held):
        answers = tablet.send(self.word(tablet, held), self.word(tablet, held))
        assert [answer["state"] for answer in answers] == ["kept", "kept"]
        assert held.job.family.consents.filter(purpose="keep").count() == 1

    def test_the_other_answer_undoes_it(self, tablet, held):
        tablet.send(self.word(tablet, held), self.word(tablet, held, yes=False))
        assert self.stands(held) is None
        tablet.send(self.word(tablet, held))
        assert self.stands(held)

    def test_what_the_family_took_back_since_stays_taken_back(self, tablet, held, owner):
        said = self.word(tablet, held, minutes_ago=60)
        given = actions.give_consent(
            held.job.family, purpose="keep", given_by="Sam", by=None,
            at=timezone.now() - timedelta(minutes=50), key=uuid.uuid4(),
        )  # fmt: skip
        actions.withdraw_consent(given, by=None, at=timezone.now(), key=uuid.uuid4())
        [answer] = tablet.send(said)
        assert (answer["state"], "stays withdrawn" in answer["sentence"]) == ("kept", True)
        assert self.stands(held) is None

    def test_a_no_of_the_morning_does_not_end_a_yes_of_the_afternoon(self, tablet, held):
        said = self.word(tablet, held, yes=False, minutes_ago=60)
        actions.give_consent(
            held.job.family, purpose="keep", given_by="Sam", by=None, at=timezone.now(),
            key=uuid.uuid4(),
        )  # fmt: skip
        assert "it stays given" in tablet.send(said)[0]["sentence"]
        assert self.stands(held)

    @pytest.mark.parametrize(
        "facts",
        [{"purpose": "sell"}, {"given_by": ""}, {"yes": "yes"}, {"wording_version": "1066"}],
    )
    def test_what_nobody_asked_is_refused(self, tablet, held, facts):
        [answer] = tablet.send(self.word(tablet, held, **facts))
        assert answer["state"] == "refused"
        assert self.stands(held) is None


class TestALimb:
    def test_all_that_was_said_of_it_is_kept(self, tablet, limbs, owner):
        said = {
            "tries": 2,
            "marks": {"flat": True, "toes": None, "depth": False},
            "length_mm": 74,
            "note": "Wriggled",
            "tray": "3",
        }
        tablet.send(tablet.tap(limbs[0], "taken", minutes_ago=5, **said))
        kept = state(limbs[0])
        assert (kept.outcome, kept.tries, kept.length_mm) == ("taken", 2, 74)
        assert kept.marks == said["marks"]
        assert (kept.note, kept.tray, kept.said_by, kept.version) == (
            "Wriggled",
            "3",
            owner.user,
            2,
        )
        assert kept.quality == "fingers flat, depth uneven, 74 mm"
        told = "Ada, left hand: taken, tray 3, fingers flat, depth uneven, 74 mm, Wriggled"
        assert details(events(kept.sitting, "log_print").get()) == told

    def test_it_can_be_taken_back_to_where_it_was(self, tablet, limbs):
        tablet.send(tablet.tap(limbs[0], "taken", tray="3", length_mm=74))
        tablet.send(tablet.tap(limbs[0], "planned"))
        kept = state(limbs[0])
        assert (kept.outcome, kept.tray, kept.length_mm, kept.taken_at) == (
            "planned",
            "",
            None,
            None,
        )

    @pytest.mark.parametrize(
        "facts",
        [{"outcome": "smudged"}, {"tries": -1}, {"tries": 51}, {"tries": None}, {"tries": 1.5},
         {"length_mm": 19}, {"length_mm": 401}, {"length_mm": "74"}, {"marks": {"flat": 3}},
         {"marks": []}, {"note": "x" * 201}, {"tray": "x" * 11}, {"impression": None},
         {"impression": 10**6}],
    )  # fmt: skip
    def test_what_makes_no_sense_is_refused_and_changes_nothing(self, tablet, limbs, facts):
        entry = tablet.tap(limbs[0])
        entry["facts"] |= facts
        assert tablet.send(entry)[0]["state"] == "refused"
        assert (state(limbs[0]).outcome, limbs[0].version) == ("planned", 1)

    def test_a_limb_of_another_sitting_is_not_part_of_this_one(self, tablet, limbs, unit, owner):
        other = makers.a_job(unit, pieces=1, by=owner.user).sittings.get()
        entry = tablet.tap(other.prints.get())
        entry["sitting"] = limbs[0].sitting_id
        assert tablet.send(entry)[0]["state"] == "refused"

    def test_after_the_end_it_is_refused_and_kept_for_a_person(self, tablet, others, limbs, held):
        finished = tablet.entry("finish", held, {"put_off": "split"})
        tablet.send(*taken(tablet, limbs), finished)
        [answer] = others.send(others.tap(limbs[0], "not_today"))
        assert (answer["state"], "stands" in answer["sentence"]) == ("refused", True)
        assert [row.kind for row in TabletEntry.objects.unsettled()] == ["impression"]


class TestTheEnd:
    def finish(self, tablet, held, put_off="split"):
        return tablet.send(tablet.entry("finish", held, {"put_off": put_off}))[0]

    def reopen(self, tablet, held):
        return tablet.send(tablet.entry("reopen", held, {}))[0]

    def test_a_whole_sitting_in_one_batch(self, tablet, limbs, held):
        entries = [*taken(tablet, limbs), tablet.entry("finish", held, {"put_off": "split"})]
        assert [answer["state"] for answer in tablet.send(*entries)] == ["kept"] * 3
        assert state(held).state == Sitting.State.DONE
        assert state(held.job).stage == Stage.CLAY_REST

    def test_a_limb_that_is_open_holds_it_up(self, tablet, limbs, held):
        tablet.send(tablet.tap(limbs[0]))
        answer = self.finish(tablet, held)
        assert (answer["state"], "still to be taken" in answer["sentence"]) == ("refused", True)
        assert state(held).state == Sitting.State.PLANNED
        tablet.send(tablet.tap(limbs[1]))
        assert tablet.choose(answer, "mine").json()["state"] == "settled"
        assert state(held).state == Sitting.State.DONE

    def test_what_the_other_tablet_finished_is_finished(self, tablet, others, limbs, held, owner):
        tablet.send(*taken(tablet, limbs))
        self.finish(tablet, held)
        answer = self.finish(others, held)
        assert (answer["state"], str(owner.user) in answer["sentence"]) == ("kept", True)
        assert events(held, "finish_sitting").count() == 1

    def test_an_unknown_end_is_refused(self, tablet, limbs, held):
        tablet.send(*taken(tablet, limbs))
        assert self.finish(tablet, held, "throw away")["state"] == "refused"

    def test_it_can_be_taken_back(self, tablet, limbs, held):
        tablet.send(*taken(tablet, limbs))
        self.finish(tablet, held)
        assert self.reopen(tablet, held)["state"] == "kept"
        assert (state(held).state, state(held.job).stage) == ("planned", Stage.BOOKED)
        assert tablet.send(tablet.tap(limbs[0], "not_today"))[0]["state"] == "kept"
        assert self.finish(tablet, held, "leave")["state"] == "kept"
        assert state(held.job).stage == Stage.CLAY_REST

    def test_a_slip_that_was_taken_back_is_no_news_for_the_family(self, tablet, limbs, held):
        from orders.family_page.family_view import family_page  # noqa: PLC0415

        def told():
            view = family_page(type(held.job).objects.get(pk=held.job.pk), timezone.localdate())
            return view.status, view.steps, [each.words for each in view.history]

        tablet.send(*taken(tablet, limbs))
        before = told()
        self.finish(tablet, held)
        after = told()
        assert "The prints were taken." in after[-1]
        self.reopen(tablet, held)
        assert told() == before
        self.finish(tablet, held)
        assert told() == after

    def test_it_is_never_taken_back_before_it_was(self, tablet, limbs, held):
        tablet.send(*taken(tablet, limbs))
        self.finish(tablet, held)
        tablet.send(tablet.entry("reopen", held, {}, minutes_ago=30))
        assert [event.what for event in held.job.events.oldest_first()][-4:] == [
            "finish_sitting",
            "move",
            "reopen_sitting",
            "move",
        ]

    def test_open_already_is_open(self, tablet, held):
        assert self.reopen(tablet, held)["state"] == "kept"
        assert not events(held, "reopen_sitting").exists()

    @pytest.mark.parametrize("put_off", ["split", "leave"])
    def test_what_was_put_off_comes_back_with_it(self, tablet, limbs, held, put_off):
        makers.prices(held.unit)
        price_job(held.job, by=None, at=timezone.now(), key=uuid.uuid4())
        before = balance_of(held.job.order)
        tablet.send(tablet.tap(limbs[0]), tablet.tap(limbs[1], "not_today"))
        for _ in range(2):  # and once more, as if it had never been
            self.finish(tablet, held, put_off)
            assert held.job.pieces.on_the_job().count() == 1
            assert self.reopen(tablet, held)["state"] == "kept"
            assert held.job.pieces.on_the_job().count() == 2
            assert balance_of(state(held.job.order)) == before
            assert state(limbs[1]).live
            assert not Job.objects.exclude(pk=held.job.pk).exclude(stage=Stage.CALLED_OFF).exists()
        tablet.send(tablet.tap(limbs[1], tray="9"))
        assert self.finish(tablet, held)["state"] == "kept"
        assert state(held.job).stage == Stage.CLAY_REST

    def test_what_was_left_off_before_its_end_stays_off(self, tablet, limbs, held, owner):
        who = {"by": owner.user, "at": timezone.now()}
        leave_off_piece(limbs[1].piece, why="Only one.", key=uuid.uuid4(), **who)
        tablet.send(tablet.tap(limbs[0]))
        self.finish(tablet, held)
        assert self.reopen(tablet, held)["state"] == "kept"
        assert held.job.pieces.on_the_job().get() == limbs[0].piece

    def test_once_what_was_put_off_went_on_it_stays_finished(self, tablet, limbs, held, owner):
        tablet.send(tablet.tap(limbs[0]), tablet.tap(limbs[1], "not_today"))
        self.finish(tablet, held)
        split = Job.objects.get(split_from=held.job)
        now = timezone.now()
        diary_actions.book_again(
            split,
            starts_at=makers.next_morning(held.unit, now),
            minutes=45,
            by=owner.user,
            at=now,
            key=uuid.uuid4(),
        )
        answer = self.reopen(tablet, held)
        assert (answer["state"], split.display_reference in answer["sentence"]) == ("refused", True)
        assert state(held).state == "done"

    def test_once_a_print_was_lost_it_stays_finished(self, tablet, limbs, held, owner):
        tablet.send(*taken(tablet, limbs))
        self.finish(tablet, held)
        sittings_actions.lose_print(
            limbs[0].piece, why="Dried.", by=owner.user, at=timezone.now(), key=uuid.uuid4()
        )
        assert self.reopen(tablet, held)["state"] == "refused"

    def test_once_it_is_poured_it_stays_finished(self, tablet, limbs, held, owner):
        tablet.send(*taken(tablet, limbs))
        self.finish(tablet, held)
        makers.pour_all(held.job, owner.user, timezone.now() - timedelta(days=1))
        answer = self.reopen(tablet, held)
        assert (answer["state"], "poured" in answer["sentence"]) == ("refused", True)
        assert state(held).state == "done"

    def test_opened_again_twice_with_one_key_is_once(self, tablet, limbs, held, owner):
        tablet.send(*taken(tablet, limbs))
        self.finish(tablet, held)
        who = {"by": owner.user, "at": timezone.now(), "key": uuid.uuid4()}
        sittings_actions.reopen_sitting(held, **who)
        sittings_actions.reopen_sitting(held, **who)
        assert events(held, "reopen_sitting").count() == 1


class TestAtTheDesk:
    @pytest.fixture
    def conflict(self, tablet, others, limbs):
        tablet.send(tablet.tap(limbs[0], tray="3"))
        [answer] = others.send(others.tap(limbs[0], "not_today", note="Asleep"))
        return answer

    def page(self, client, held):
        return folded(client.get(reverse("bookings:sitting", args=[held.pk])).content.decode())

    def press(self, client, held, answer, **sent):
        url = reverse("bookings:settle_entry", args=[held.pk, answer["key"]])
        return client.post(url, sent)

    def test_both_are_shown_with_a_plain_choice(self, owner, held, conflict):
        page = self.page(owner, held)
        for words in ("A tablet says", "not today, Asleep", "taken, tray 3", "Take what the tablet says",
                      "Leave what stands"):  # fmt: skip
            assert words in page

    def test_nothing_is_shown_where_nothing_waits(self, owner, held, tablet, limbs):
        tablet.send(tablet.tap(limbs[0]))
        assert "A tablet says" not in self.page(owner, held)

    @pytest.mark.parametrize(("choice", "outcome"), [("mine", "not_today"), ("theirs", "taken")])
    def test_the_choice_is_made(self, helper, held, limbs, conflict, choice, outcome):
        response = self.press(helper, held, conflict, choice=choice, seen=conflict["version"])
        assert response["Location"] == reverse("bookings:sitting", args=[held.pk])
        assert state(limbs[0]).outcome == outcome
        assert "A tablet says" not in self.page(helper, held)
        [told] = Tablet(helper).pack()["visit"]["sittings"]
        assert told["unsettled"] == []

    def test_what_was_said_since_is_shown_first(self, helper, held, limbs, tablet, conflict):
        tablet.send(tablet.tap(limbs[0], tray="4", seen=2))
        self.press(helper, held, conflict, choice="mine", seen=conflict["version"])
        assert (state(limbs[0]).tray, "taken, tray 4" in self.page(helper, held)) == ("4", True)

    def test_today_says_that_something_waits(self, owner, held, tablet, conflict):
        def today():
            return folded(owner.get(reverse("studio:today")).content.decode())

        assert "a tablet says otherwise" in today()
        tablet.choose(conflict, "theirs")
        assert "a tablet says otherwise" not in today()

    def test_without_a_choice_nothing_changes(self, owner, held, conflict):
        assert self.press(owner, held, conflict, choice="later").status_code == 302
        assert "A tablet says" in self.page(owner, held)

    def test_a_refused_one_is_tried_again_or_put_aside(self, owner, tablet, held, limbs):
        [answer] = tablet.send(tablet.entry("finish", held, {"put_off": "split"}))
        assert "Try it once more" in self.page(owner, held)
        self.press(owner, held, answer, choice="mine")
        assert "still to be taken" in self.page(owner, held)
        self.press(owner, held, answer, choice="theirs")
        assert "A tablet says" not in self.page(owner, held)

    def test_get_is_refused_and_a_stranger_finds_nothing(
        self, owner, stranger, held, conflict, limbs
    ):
        url = reverse("bookings:settle_entry", args=[held.pk, conflict["key"]])
        assert owner.get(url).status_code == 405
        assert self.press(stranger, held, conflict, choice="mine").status_code == 404
        assert state(limbs[0]).outcome == "taken"

    def test_the_laptop_is_told_of_the_tablet(self, owner, held, limbs, tablet):
        """The desk's own form: what it did not know stands first, and pressing again means mine."""
        tablet.send(tablet.tap(limbs[0], tray="3"))
        url = reverse("bookings:log_print", args=[limbs[0].pk])
        sent = {"key": uuid.uuid4(), "outcome": "not_today", "seen_version": 1}
        response = owner.post(url, sent)
        page = folded(response.content.decode())
        assert (response.status_code, state(limbs[0]).outcome) == (409, "taken")
        assert "Somebody else said something about this one" in page
        assert 'name="seen_version" value="2"' in page
        owner.post(url, sent | {"seen_version": 2})
        assert state(limbs[0]).outcome == "not_today"


def stored(folder="tablet-parts"):
    """Every file of a folder of the storage, however deep."""
    root = default_storage.path(folder)
    return [name for _, _, names in os.walk(root) for name in names]


class TestAPhotograph:
    @pytest.fixture
    def job(self, held, owner):
        actions.give_consent(
            held.job.family, purpose="keep", given_by="Sam", by=owner.user, at=timezone.now(),
            key=uuid.uuid4(),
        )  # fmt: skip
        return held.job

    def test_it_comes_in_parts_and_is_kept_once(self, tablet, job):
        sending = Sending(tablet, job, piece=job.pieces.first().pk)
        assert sending.have() == {"have": 0, "state": ""}
        answer = sending.all()
        assert (answer.status_code, answer.json()) == (200, {"have": len(PICTURE), "state": "kept"})
        photo = Photo.objects.get()
        assert (photo.job, photo.piece, photo.kind) == (job, job.pieces.first(), "sitting")
        assert (photo.width_px, photo.height_px) == (900, 700)
        assert stored() == []
        assert sending.have() == {"have": len(PICTURE), "state": "kept"}
        assert sending.post(0).json() == {"have": len(PICTURE), "state": "kept"}
        assert Photo.objects.count() == 1
        assert TabletEntry.objects.get(kind="photo").facts["total_bytes"] == len(PICTURE)

    def test_a_part_twice_or_too_early_changes_nothing(self, tablet, job):
        sending = Sending(tablet, job)
        part = sending.part
        assert sending.post(0).json()["have"] == part
        assert sending.post(0).json()["have"] == part
        assert len(stored()) == 1
        assert sending.post(part, chunk=PICTURE).json()["have"] == part  # beyond the end
        assert sending.post(3 * part).json()["have"] == part
        assert sending.post(part // 2).json()["have"] == part + part // 2
        assert sending.all().json()["state"] == "kept"
        kept = Photo.objects.get()
        whole = cleaning.clean(SimpleUploadedFile("whole", PICTURE))
        with kept.file.open("rb") as file:
            assert file.read() == whole.jpeg

    def test_a_part_cut_off_while_it_was_written_is_sent_again(self, tablet, job):
        sending = Sending(tablet, job)
        sending.post(0)
        [name] = stored()
        [path] = [os.path.join(at, name) for at, _, names in os.walk(default_storage.path("tablet-parts")) if name in names]  # fmt: skip  # noqa: PTH118
        with open(path, "r+b") as file:  # noqa: PTH123
            file.truncate(100)
        assert sending.have()["have"] == 0
        assert sending.all().json()["state"] == "kept"

    def test_what_arrives_damaged_begins_again(self, tablet, job):
        sending = Sending(tablet, job)
        sending.post(0, chunk=bytes(sending.part))
        answer = sending.all()
        assert (answer.status_code, answer.json()["state"]) == (409, "damaged")
        assert (sending.have()["have"], stored()) == (0, [])
        assert sending.all().json()["state"] == "kept"

    def test_without_the_familys_yes_nothing_of_it_lies_here(self, tablet, held):
        sending = Sending(tablet, held.job)
        answer = sending.post(0)
        assert (answer.status_code, answer.json()["state"]) == (409, "refused")
        assert (stored(), Photo.objects.count()) == ([], 0)

    def test_a_yes_taken_back_on_the_way_stops_it(self, tablet, job, owner):
        sending = Sending(tablet, job)
        sending.post(0)
        actions.withdraw_consent(
            job.family.consents.get(purpose="keep"), by=None, at=timezone.now(), key=uuid.uuid4()
        )
        assert sending.post(sending.part).json()["state"] == "refused"
        assert Photo.objects.count() == 0
        assert stored() == []

    def test_another_picture_under_a_key_that_stands_is_told(self, tablet, job):
        key = uuid.uuid4()
        Sending(tablet, job, key=key).all()
        other = Sending(tablet, job, key=key, raw=makers.a_jpeg(300, 200))
        answer = other.post(0)
        assert (answer.status_code, answer.json()["state"]) == (409, "conflict")
        assert Photo.objects.get().width_px == 900

    @pytest.mark.parametrize("raw", [b"GIF89a" + bytes(3000), PICTURE[: len(PICTURE) // 2], b"x"])
    def test_what_is_no_picture_is_refused_in_words(self, tablet, job, raw):
        answer = Sending(tablet, job, raw=raw).all()
        assert (answer.status_code, answer.json()["state"]) == (422, "refused")
        assert "could not be read as a photograph" in answer.json()["why"]
        assert (stored(), Photo.objects.count()) == ([], 0)

    def test_more_than_50_mb_is_refused_before_it_comes(self, tablet, job):
        answer = Sending(tablet, job).post(0, total_bytes=cleaning.MAX_BYTES + 1)
        assert (answer.status_code, "50 MB" in answer.json()["why"]) == (413, True)
        assert stored() == []

    def test_a_part_of_more_than_1_mb_is_refused(self, tablet, job):
        raw = bytes(2 * 1024 * 1024)
        answer = Sending(tablet, job, raw=raw).post(0, chunk=raw[: 1024 * 1024 + 1])
        assert answer.status_code == 413
        assert stored() == []

    @pytest.mark.parametrize(
        "said",
        [{"sha256": "../../etc"}, {"sha256": "A" * 64}, {"offset": -1}, {"total_bytes": 0},
         {"device": "mine"}, {"kind": "portrait"}, {"said_at": "noon"}, {"sent_at": ""},
         {"piece": "left"}, {"chunk": ""}],
        ids=str,
    )  # fmt: skip
    def test_what_is_not_said_properly_is_refused(self, tablet, job, said):
        answer = Sending(tablet, job).post(0, **said)
        assert (answer.status_code, list(answer.json())) == (400, ["why"])
        assert stored() == []

    def test_a_strangers_job_or_piece_is_not_there(self, tablet, stranger, job, unit, owner):
        theirs = Sending(Tablet(stranger), job)
        assert theirs.post(0).status_code == 404
        other = makers.a_job(unit, pieces=1, by=owner.user)
        assert Sending(tablet, job, piece=other.pieces.get().pk).post(0).status_code == 404
        assert stored() == []

    def test_two_studios_keys_do_not_meet(self, tablet, stranger, job):
        key = uuid.uuid4()
        Sending(tablet, job, key=key).post(0)
        assert Sending(Tablet(stranger), job, key=key).have() == {"have": 0, "state": ""}

    def test_parts_that_nobody_goes_on_with_go_after_a_week(self, tablet, job, monkeypatch):
        old, young = Sending(tablet, job), Sending(tablet, job)
        old.post(0)
        now = timezone.now()
        assert photo_parts.delete_abandoned(now + timedelta(days=6)) == 0
        later = now + timedelta(days=8)
        young.post(0)
        [kept] = [name for name in _part_names() if young.url.split("/")[-2] in name]
        aged = default_storage.get_modified_time
        monkeypatch.setattr(
            default_storage._wrapped,
            "get_modified_time",
            lambda name: later if kept.endswith(name) else aged(name),
        )
        assert photo_parts.delete_abandoned(later) == 1
        assert (old.have()["have"], young.have()["have"]) == (0, young.part)

    def test_the_nightly_tidying_sweeps_them_too(self, tablet, job, monkeypatch, capsys):
        Sending(tablet, job).post(0)
        monkeypatch.setattr(photo_parts, "ABANDONED_AFTER", timedelta(days=-1))
        call_command("tidy_photos")
        assert stored() == []

    def test_the_other_methods_are_refused(self, owner):
        url = reverse("bookings:tablet_photo", args=[uuid.uuid4()])
        assert owner.put(url).status_code == 405
        assert owner.delete(url).status_code == 405

    def test_a_picture_taken_with_a_wrong_clock_has_its_right_time(self, owner, job):
        Sending(Tablet(owner, hours_fast=9), job).all()
        assert timezone.now() - Photo.objects.get().taken_at < timedelta(minutes=1)


def _part_names():
    root = default_storage.path("tablet-parts")
    return [os.path.join(at, name) for at, _, names in os.walk(root) for name in names]  # noqa: PTH118


class TestTheFile:
    @pytest.fixture
    def queue(self, tablet, held, limbs):
        word = {"purpose": "keep", "yes": True, "given_by": "Sam", "wording_version": ""}
        return {
            "caststead": "queue",
            "device": tablet.device,
            "made_at": tablet.now().isoformat(),
            "skew_ms": 2 * 3600 * 1000,
            "entries": [tablet.entry("consent", held, word, minutes_ago=30), *taken(tablet, limbs)],
            "photos": [
                {
                    "key": str(uuid.uuid4()),
                    "job": held.job.reference,
                    "piece": limbs[0].piece_id,
                    "kind": "sitting",
                    "said_at": tablet.now().isoformat(),
                    "sha256": hashlib.sha256(PICTURE).hexdigest(),
                    "data": base64.b64encode(PICTURE).decode(),
                }
            ],
        }

    def bring(self, client, queue):
        content = queue if isinstance(queue, bytes) else json.dumps(queue).encode()
        file = SimpleUploadedFile("queue.json", content)
        return client.post(reverse("bookings:import_tablet_file"), {"queue": file})

    def test_it_is_taken_in_as_if_the_tablet_had_sent_it(self, helper, queue, limbs, held):
        page = self.bring(helper, queue)
        assert page.status_code == 200
        assert folded(page.content.decode()).count("taken in") >= 4
        assert [state(each).outcome for each in limbs] == ["taken", "taken"]
        assert Photo.objects.get().piece == limbs[0].piece
        for row in TabletEntry.objects.exclude(kind="consent"):
            assert row.said_at - row.at == timedelta(hours=2)

    def test_a_file_of_another_studio_is_refused_in_words(self, stranger, queue, unit):
        page = self.bring(stranger, queue | {"unit": unit.pk})
        assert page.status_code == 422
        assert "another studio" in folded(page.content.decode())
        assert not TabletEntry.objects.exists()
        assert self.bring(stranger, queue | {"unit": "x"}).status_code == 422

    def test_a_file_of_this_studio_says_who_tapped(self, helper, owner, queue, unit):
        queue["entries"] = [each | {"tapped_by": owner.user.pk} for each in queue["entries"]]
        queue["photos"] = [each | {"tapped_by": owner.user.pk} for each in queue["photos"]]
        assert self.bring(helper, queue | {"unit": unit.pk}).status_code == 200
        rows = TabletEntry.objects.all()
        assert {(row.kind, row.tapped_by, row.by) for row in rows} == {
            (kind, owner.user, helper.user) for kind in ("consent", "impression", "photo")
        }

    def test_twice_or_sent_as_well_does_no_harm(self, helper, queue, tablet, held):
        self.bring(helper, queue)
        before = TabletEntry.objects.count(), Photo.objects.count(), JobEvent.objects.count()
        answers = tablet.send(*queue["entries"])
        assert {answer["state"] for answer in answers} == {"kept"}
        self.bring(helper, queue)
        after = TabletEntry.objects.count(), Photo.objects.count(), JobEvent.objects.count()
        assert after == before

    def test_what_is_refused_is_shown_with_its_sitting(self, owner, queue, tablet, held, limbs):
        queue["entries"] = [tablet.entry("finish", held, {"put_off": "split"}), {"key": "?"}]
        queue["photos"] = []
        page = folded(self.bring(owner, queue).content.decode())
        assert "still to be taken" in page
        assert reverse("bookings:sitting", args=[held.pk]) in page
        assert page.count("waits for you") == 2

    @pytest.mark.parametrize(
        "photo",
        [{}, None, {"data": "?"}, {"sha256": "0" * 64}, {"job": "CY8YEGPH"}, {"piece": 10**6}],
        ids=str,
    )
    def test_a_photograph_that_makes_no_sense_is_told(self, owner, queue, photo):
        good = queue["photos"][0]
        queue["photos"] = [good | photo if photo else photo]
        assert "waits for you" in folded(self.bring(owner, queue).content.decode())
        assert Photo.objects.count() == 0

    @pytest.mark.parametrize(
        "content", [b"{", b"[]", b"{}", b"PK\x03\x04", b'{"caststead": "queue"}']
    )
    def test_another_file_is_refused_in_words(self, owner, content, unit):
        response = self.bring(owner, content)
        assert response.status_code == 422
        assert "The file was not taken in." in folded(response.content.decode())

    def test_no_file_is_asked_for(self, owner, unit):
        response = owner.post(reverse("bookings:import_tablet_file"))
        assert (response.status_code, "Choose the file." in folded(response.content.decode())) == (
            422,
            True,
        )

    def test_an_empty_queue_says_so(self, owner, queue):
        queue |= {"entries": [], "photos": []}
        assert "Nothing was in it" in folded(self.bring(owner, queue).content.decode())

    def test_a_strangers_hands_take_nothing_of_ours_in(self, stranger, queue, limbs):
        page = self.bring(stranger, queue)
        assert "not in your diary" in folded(page.content.decode())
        assert [state(each).outcome for each in limbs] == ["planned", "planned"]
        assert Photo.objects.count() == 0

    def test_the_office_has_no_such_page(self, office):
        assert office.get(reverse("bookings:import_tablet_file")).status_code == 403


def test_the_limbs_are_asked_in_the_studios_own_order(unit, held):
    unit.limb_order = "right_hand,left_foot,right_foot,left_hand"
    unit.save()
    order = [each.piece.limb for each in screens.prints_of(Sitting.objects.get())]
    assert order == ["right_hand", "left_hand"]


def test_every_caution_has_its_name():
    assert list(screens.named_cautions().values()) == list(screens.CAUTIONS)


def test_a_length_out_of_reach_is_no_row(limbs):
    from django.db import IntegrityError, transaction  # noqa: PLC0415

    for length_mm in (19, 401):
        with pytest.raises(IntegrityError), transaction.atomic():
            ClayPrint.objects.filter(pk=limbs[0].pk).update(length_mm=length_mm)
