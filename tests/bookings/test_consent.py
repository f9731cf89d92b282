"""A family's word, and the photographs that rest on it: kept, shown, hidden at once."""

import io
import uuid
from datetime import timedelta

import pytest
from django.core.files.storage import default_storage
from django.db import IntegrityError, transaction
from django.urls import reverse

from bookings import actions, photos, wording
from bookings.models import Consent, Photo
from bookings.queries import keeps_photos, shows_photos
from studio.actions import ActionRefused
from studio.stages import MoveRefused, Stage, move
from tests import makers
from tests.bookings.doing import AT, refused


@pytest.fixture
def clean():
    return photos.clean(io.BytesIO(makers.a_jpeg()))


@pytest.fixture
def keep(doing, family):
    return doing.consent(family, "keep")


def files():
    return default_storage.listdir("photos")[1] if default_storage.exists("photos") else []


class TestGiveConsent:
    def test_keeps_who_when_and_the_words(self, doing, family):
        given = doing.consent(family, "show")
        asked = wording.of("show")
        assert (given.given_by, given.given_at, given.recorded_by) == ("Sam Okafor", AT, doing.by)
        assert given.wording_version == asked.version
        assert asked.question in given.wording
        assert asked.text in given.wording

    def test_the_same_key_twice_is_one(self, doing, family):
        key = uuid.uuid4()
        assert doing.consent(family, key=key) == doing.consent(family, key=key)

    def test_what_was_agreed_keeps_its_own_words(self, doing, family, monkeypatch):
        given = doing.consent(family)
        monkeypatch.setitem(
            wording.WORDINGS, "keep", wording.Wording("2027-01-01", "May we?", "New words.")
        )
        given.refresh_from_db()
        assert "New words." not in given.wording

    def test_a_name_a_known_question_and_no_standing_yes(self, doing, family):
        for purpose, name, words in (
            ("keep", " ", "who said yes"),
            ("sell", "Sam", "no such question"),
        ):
            with pytest.raises(ActionRefused, match=words):
                actions.give_consent(family, purpose=purpose, given_by=name, **doing.who())
        doing.consent(family)
        with pytest.raises(ActionRefused, match="stands already"):
            doing.consent(family)
        assert Consent.objects.count() == 1

    def test_showing_takes_keeping(self, doing, family):
        doing.consent(family, "show")
        assert not shows_photos(family)
        doing.consent(family, "keep")
        assert keeps_photos(family)
        assert shows_photos(family)

    def test_the_database_holds_one_standing_yes_a_purpose(self, keep, family):
        with pytest.raises(IntegrityError), transaction.atomic():
            Consent.objects.create(family=family, purpose="keep", given_by="Sam", given_at=AT)


class TestWithdrawConsent:
    def test_it_counts_at_once_and_both_days_stay(self, doing, keep, family):
        later = AT + timedelta(days=3)
        gone = actions.withdraw_consent(keep, **doing.who(at=later))
        assert (gone.given_at, gone.withdrawn_at) == (AT, later)
        assert not keeps_photos(family)

    def test_twice_is_once(self, doing, keep):
        first = actions.withdraw_consent(keep, **doing.who(at=AT + timedelta(days=1)))
        again = actions.withdraw_consent(keep, **doing.who(at=AT + timedelta(days=2)))
        assert again.withdrawn_at == first.withdrawn_at == AT + timedelta(days=1)

    def test_a_clock_that_runs_behind_does_not_keep_it(self, doing, keep, family):
        gone = actions.withdraw_consent(keep, **doing.who(at=AT - timedelta(hours=1)))
        assert gone.withdrawn_at == AT
        assert not keeps_photos(family)

    def test_it_may_be_given_anew(self, doing, keep, family):
        actions.withdraw_consent(keep, **doing.who())
        assert doing.consent(family) != keep
        assert keeps_photos(family)


class TestAddPhoto:
    def test_keeps_the_file_the_size_and_one_event(self, doing, keep, sitting, clean):
        piece = sitting.job.pieces.first()
        photo = actions.add_photo(
            sitting.job, clean=clean, kind="sitting", piece=piece, **doing.who()
        )
        with photo.file.open("rb") as kept:
            assert kept.read() == clean.jpeg
        assert (photo.width_px, photo.height_px, photo.piece) == (640, 480, piece)
        assert sitting.job.events.filter(what="add_photo").count() == 1
        assert "Okafor" not in photo.file.name

    def test_the_same_key_twice_is_one_row_and_one_file(self, doing, keep, sitting, clean):
        key = uuid.uuid4()
        for _ in range(2):
            actions.add_photo(sitting.job, clean=clean, kind="sitting", **doing.who(key=key))
        assert Photo.objects.count() == 1
        assert len(files()) == 1

    def test_without_a_yes_nothing_is_kept(self, doing, sitting, clean, unit):
        def add():
            actions.add_photo(sitting.job, clean=clean, kind="sitting", **doing.who())

        refused(unit, add, "has not agreed")
        actions.withdraw_consent(doing.consent(sitting.job.family), **doing.who())
        refused(unit, add, "has not agreed")
        doing.consent(sitting.job.family, "show")
        refused(unit, add, "has not agreed")
        assert files() == []

    def test_another_jobs_piece_or_an_ended_job_leaves_no_file(
        self, doing, keep, sitting, clean, unit
    ):
        other = doing.book(doing.family(name="Hughes"), days=2).job.pieces.first()

        def add(piece=None):
            actions.add_photo(sitting.job, clean=clean, kind="sitting", piece=piece, **doing.who())

        refused(unit, lambda: add(other), "another job")
        move(sitting.job, seen=Stage.BOOKED, to=Stage.CALLED_OFF, **doing.who())
        refused(unit, add, error=MoveRefused)
        assert files() == []

    def test_a_row_that_the_database_refuses_leaves_no_file(self, doing, keep, sitting):
        empty = photos.Clean(b"\xff\xd8", 0, 0)
        with pytest.raises(IntegrityError), transaction.atomic():
            actions.add_photo(sitting.job, clean=empty, kind="sitting", **doing.who())
        assert files() == []


class TestPages:
    @pytest.fixture
    def photo(self, doing, keep, sitting, clean):
        return actions.add_photo(sitting.job, clean=clean, kind="sitting", **doing.who())

    def test_a_photo_is_served_to_the_studio_and_kept_by_nobody(self, owner, helper, photo, clean):
        url = reverse("bookings:photo", args=[photo.public_id])
        for person in (owner, helper):
            answer = person.get(url)
            assert b"".join(answer.streaming_content) == clean.jpeg
            assert answer.headers["Content-Type"] == "image/jpeg"
            assert answer.headers["Cache-Control"] == "private, no-store"
            assert answer.headers["X-Content-Type-Options"] == "nosniff"

    def test_to_nobody_else(self, stranger, office, parent, photo):
        url = reverse("bookings:photo", args=[photo.public_id])
        assert stranger.get(url).status_code == 404
        assert office.get(url).status_code == 403
        assert parent.get(url).status_code == 302

    def test_not_any_more_once_the_yes_is_taken_back(self, owner, photo, keep):
        url, job = reverse("bookings:photo", args=[photo.public_id]), photo.job
        page = owner.get(reverse("bookings:sitting", args=[job.sittings.get().pk]))
        assert page.status_code == 200
        taken_back = owner.post(
            reverse("bookings:withdraw_consent", args=[keep.pk]), {"key": uuid.uuid4()}
        )
        assert taken_back.headers["Location"] == reverse("studio:family", args=[job.family_id])
        assert owner.get(url).status_code == 404

    def test_a_file_that_is_gone_is_a_404(self, owner, photo):
        default_storage.delete(photo.file.name)
        url = reverse("bookings:photo", args=[photo.public_id])
        assert owner.get(url).status_code == 404

    def test_a_photo_is_added_from_the_tablet_and_leads_back(self, owner, doing, keep, sitting):
        back = f"{reverse('bookings:sitting', args=[sitting.pk])}?at=summary"
        answer = self.send(owner, sitting.job, makers.a_jpeg(), back=back)
        assert answer.headers["Location"] == back
        assert Photo.objects.get().piece == sitting.job.pieces.first()

    def test_the_way_back_stays_on_our_own_pages(self, owner, keep, sitting):
        answer = self.send(owner, sitting.job, makers.a_jpeg(), back="//example.com/")
        assert answer.headers["Location"] == sitting.job.get_absolute_url()

    @pytest.mark.parametrize(
        ("raw", "words"),
        [
            (b"words", "could not be read as a photograph"),
            (makers.a_jpeg()[:300], "cut short"),
            (b"", "This file is empty"),
        ],
    )
    def test_a_broken_file_comes_back_in_a_sentence(self, owner, keep, sitting, raw, words):
        answer = self.send(owner, sitting.job, raw)
        assert answer.status_code == 422
        assert words in answer.content.decode()
        assert files() == []

    def test_without_a_yes_the_page_says_so(self, owner, sitting):
        url = reverse("bookings:add_photo", args=[sitting.job.reference])
        assert "has not agreed" in owner.get(url).content.decode()
        answer = self.send(owner, sitting.job, makers.a_jpeg())
        assert answer.status_code == 409
        assert "has not agreed" in answer.content.decode()

    def test_a_yes_is_written_down_and_a_nameless_one_comes_back(self, owner, family):
        url = reverse("bookings:give_consent", args=[family.pk])
        facts = {"key": uuid.uuid4(), "purpose": "keep", "given_by": ""}
        nameless = owner.post(url, facts)
        assert nameless.status_code == 422
        assert "Write who says yes." in nameless.content.decode()
        assert wording.of("keep").text in nameless.content.decode()
        given = owner.post(url, facts | {"given_by": "Jo"})
        assert given.headers["Location"] == family.get_absolute_url()
        assert owner.post(url, facts | {"given_by": "Jo", "key": uuid.uuid4()}).status_code == 409
        assert Consent.objects.count() == 1

    def test_an_unknown_question_is_no_crash(self, owner, family):
        url = reverse("bookings:give_consent", args=[family.pk])
        answer = owner.post(url, {"key": uuid.uuid4(), "purpose": "sell", "given_by": "Jo"})
        assert answer.status_code == 422

    def send(self, person, job, raw, back=""):
        return person.post(
            reverse("bookings:add_photo", args=[job.reference]),
            {
                "key": uuid.uuid4(),
                "kind": "sitting",
                "piece": job.pieces.first().pk,
                "photo": io.BytesIO(raw) if raw else empty_file(),
                "back": back,
            },
        )


def empty_file():
    made = io.BytesIO(b"")
    made.name = "empty.jpg"
    return made
