"""A family's word, and the photographs that rest on it: kept, shown, hidden at once."""

import io
import uuid
from datetime import timedelta

import pytest
from django.core.files.storage import FileSystemStorage, default_storage
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from bookings.consent import actions, wording
from bookings.consent.models import Consent
from bookings.consent.permissions import families_without_consent, may_keep_photos, may_show_photos
from bookings.photos import actions as photos_actions
from bookings.photos import cleaning
from bookings.photos.erasure import families_to_erase
from bookings.photos.models import Photo
from studio.jobs.models import Job, JobEvent
from studio.limbs import Limb
from studio.stages import ActionRefused, MoveRefused, Stage, missing, move
from tests import makers
from tests.bookings.doing import AT, refused
from tests.parts.markup import folded


@pytest.fixture
def clean():
    return cleaning.clean(io.BytesIO(makers.a_jpeg()))


@pytest.fixture
def keep(doing, family):
    return doing.consent(family, "keep")


def at(job, stage):
    """The same job as if it stood at `stage`, unsaved."""
    there = Job.objects.get(pk=job.pk)
    there.stage = stage
    return there


def files():
    return default_storage.listdir("photos")[1] if default_storage.exists("photos") else []


class TestGiveConsent:
    def test_keeps_who_when_and_the_words(self, doing, family):
        given = doing.consent(family, "show")
        asked = wording.find_wording("show")
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

    def test_a_tablet_that_asked_in_older_words_is_understood(self, doing, family):
        older = wording.EARLIER_WORDINGS["keep"][0]
        given = actions.give_consent(
            family, purpose="keep", given_by="Sam", wording_version=older.version, **doing.who()
        )
        assert given.wording_version == older.version != wording.find_wording("keep").version
        assert older.text in given.wording
        with pytest.raises(ActionRefused, match="no such question"):
            actions.give_consent(
                family, purpose="make", given_by="Sam", wording_version="1999-01-01", **doing.who()
            )

    def test_every_wording_has_its_own_day(self):
        for purpose, today in wording.WORDINGS.items():
            versions = [
                each.version for each in (*wording.EARLIER_WORDINGS.get(purpose, ()), today)
            ]
            assert versions == sorted(set(versions))
        assert list(wording.WORDINGS) == Consent.Purpose.values

    def test_showing_takes_keeping(self, doing, family):
        doing.consent(family, "show")
        assert not may_show_photos(family)
        doing.consent(family, "keep")
        assert may_keep_photos(family)
        assert may_show_photos(family)

    def test_the_database_holds_one_standing_yes_a_purpose(self, keep, family):
        with pytest.raises(IntegrityError), transaction.atomic():
            Consent.objects.create(family=family, purpose="keep", given_by="Sam", given_at=AT)


class TestWithdrawConsent:
    def test_it_counts_at_once_and_both_days_stay(self, doing, keep, family):
        later = AT + timedelta(days=3)
        gone = actions.withdraw_consent(keep, **doing.who(at=later))
        assert (gone.given_at, gone.withdrawn_at) == (AT, later)
        assert not may_keep_photos(family)

    def test_twice_is_once(self, doing, keep):
        first = actions.withdraw_consent(keep, **doing.who(at=AT + timedelta(days=1)))
        again = actions.withdraw_consent(keep, **doing.who(at=AT + timedelta(days=2)))
        assert again.withdrawn_at == first.withdrawn_at == AT + timedelta(days=1)

    def test_a_clock_that_runs_behind_does_not_keep_it(self, doing, keep, family):
        gone = actions.withdraw_consent(keep, **doing.who(at=AT - timedelta(hours=1)))
        assert gone.withdrawn_at == AT
        assert not may_keep_photos(family)

    def test_what_may_not_be_kept_may_not_be_shown(self, doing, keep, family):
        show, make = doing.consent(family, "show"), doing.consent(family, "make")
        later = AT + timedelta(days=1)
        actions.withdraw_consent(keep, **doing.who(at=later))
        for each in (show, make):
            each.refresh_from_db()
        assert (show.withdrawn_at, show.withdrawn_by) == (later, doing.by)
        assert make.withdrawn_at is None
        doing.consent(family, "keep")
        assert not may_show_photos(family), "to show them takes a new yes"

    def test_taking_back_showing_leaves_keeping(self, doing, keep, family):
        actions.withdraw_consent(doing.consent(family, "show"), **doing.who())
        assert may_keep_photos(family)

    def test_it_says_who_took_it_back(self, doing, keep):
        facts = doing.who() | {"by": None}
        assert actions.withdraw_consent(keep, **facts).withdrawn_by is None
        other = doing.consent(keep.family)
        assert actions.withdraw_consent(other, **doing.who()).withdrawn_by == doing.by

    def test_it_may_be_given_anew(self, doing, keep, family):
        actions.withdraw_consent(keep, **doing.who())
        assert doing.consent(family) != keep
        assert may_keep_photos(family)


class TestTheYesToTheCasts:
    def test_without_it_a_print_is_logged_and_the_sitting_stays_open(self, doing, sitting, unit):
        for clay_print in sitting.prints.all():
            assert doing.log(clay_print, "taken").outcome == "taken"
        refused(unit, lambda: doing.finish(sitting, asked=False), "ask, and write down who")
        doing.consent(sitting.job.family, "make")
        assert doing.finish(sitting, asked=False).state == "done"

    def test_taken_back_before_the_end_it_is_as_if_never_given(self, doing, sitting, unit):
        for clay_print in sitting.prints.all():
            doing.log(clay_print, "taken")
        actions.withdraw_consent(doing.consent(sitting.job.family, "make"), **doing.who())
        refused(unit, lambda: doing.finish(sitting, asked=False), "Nobody’s yes")

    def test_taken_back_it_stops_the_frame_but_nobody_never_asked(self, doing, unit):
        job = makers.job_at(Stage.FRAMING, unit)
        stop = "has taken back its yes to the casts"
        assert stop not in " ".join(missing(job, Stage.READY))
        word = job.family.consents.get(purpose="make")
        actions.withdraw_consent(word, **doing.who(at=timezone.now()))
        for start in (Stage.FRAMING, Stage.DRYING):
            to = {Stage.FRAMING: Stage.READY, Stage.DRYING: Stage.FRAMING}[start]
            assert stop in " ".join(missing(at(job, start), to))
        doing.consent(job.family, "make")
        assert families_without_consent([job]) == []
        Consent.objects.all().delete()
        assert families_without_consent([job]) == []

    def test_a_family_that_stopped_is_named_once_for_all_its_jobs(self, doing, unit):
        family = doing.family()
        jobs = [doing.book(family, limbs=[limb], days=n + 1).job for n, limb in enumerate(Limb)]
        jobs.append(doing.book(doing.family(name="Hughes"), days=9).job)
        for each in (family, jobs[-1].family):
            doing.consent(each, "make")
        assert families_without_consent(jobs) == []
        actions.withdraw_consent(family.consents.get(), **doing.who())
        assert families_without_consent(jobs) == [family]

    def test_nothing_more_is_poured_for_them(self, doing, unit):
        theirs, other = (makers.job_at(Stage.CLAY_REST, unit) for _ in range(2))
        word = theirs.family.consents.get(purpose="make")
        actions.withdraw_consent(word, **doing.who(at=timezone.now()))
        with pytest.raises(MoveRefused, match="do not pour"):
            makers.pour_all(theirs, doing.by, timezone.now())
        assert not unit.pours.exists()
        makers.pour_all(other, doing.by, timezone.now())
        assert unit.pours.count() == 1

    def test_today_and_the_job_say_to_stop(self, owner, doing, sitting):
        word = doing.consent(sitting.job.family, "make")
        assert "Speak with Okafor" not in folded(owner.get("/").content.decode())
        actions.withdraw_consent(word, **doing.who())
        assert "Speak with Okafor" in folded(owner.get("/").content.decode())
        assert "stop the work" in folded(owner.get(sitting.job.get_absolute_url()).content.decode())


class TestErasePhotos:
    @pytest.fixture
    def kept(self, doing, keep, sitting, clean):
        """Two photographs of one job, one of another; nobody lets us keep them any more."""
        other = doing.book(sitting.job.family, limbs=[Limb.LEFT_FOOT], days=3)
        for job in (sitting.job, sitting.job, other.job):
            photos_actions.add_photo(job, clean=clean, kind="sitting", **doing.who())
        actions.withdraw_consent(keep, **doing.who())
        return sitting.job, other.job

    def erase(self, doing, family, key=None):
        return photos_actions.erase_photos(family, **doing.who(key=key))

    def test_rows_and_files_go_and_each_job_says_how_many(
        self, doing, family, kept, django_capture_on_commit_callbacks
    ):
        assert len(files()) == 9
        with django_capture_on_commit_callbacks(execute=True):
            events = self.erase(doing, family)
        assert Photo.objects.count() == 0
        assert files() == []
        said = {event.job: (event.what, event.details({})) for event in events}
        assert said == {
            kept[0]: ("erase_photos", "2 photographs"),
            kept[1]: ("erase_photos", "1 photograph"),
        }

    def test_the_same_key_twice_is_one(self, doing, family, kept):
        key = uuid.uuid4()
        assert self.erase(doing, family, key) == self.erase(doing, family, key)
        assert JobEvent.objects.filter(what="erase_photos").count() == 2

    def test_while_the_yes_stands_or_with_nothing_there_it_is_refused(
        self, doing, family, kept, unit
    ):
        doing.consent(family, "keep")
        refused(unit, lambda: self.erase(doing, family), "lets us keep")
        assert len(files()) == 9
        actions.withdraw_consent(family.consents.in_force().get(purpose="keep"), **doing.who())
        self.erase(doing, family)
        refused(unit, lambda: self.erase(doing, family), "no photograph")

    def test_another_familys_photographs_stay(self, doing, family, kept, clean):
        other = doing.book(doing.family(name="Hughes"), days=4).job
        doing.consent(other.family)
        photo = photos_actions.add_photo(other, clean=clean, kind="sitting", **doing.who())
        self.erase(doing, family)
        assert Photo.objects.get() == photo

    def test_an_erased_photograph_that_is_sent_again_is_not_kept(
        self, doing, family, keep, sitting, clean, unit
    ):
        key = uuid.uuid4()
        photos_actions.add_photo(sitting.job, clean=clean, kind="sitting", **doing.who(key=key))
        actions.withdraw_consent(keep, **doing.who())
        self.erase(doing, family)
        doing.consent(family, "keep")
        refused(
            unit,
            lambda: photos_actions.add_photo(
                sitting.job, clean=clean, kind="sitting", **doing.who(key=key)
            ),
            "erased since",
        )

    def test_the_page_shows_what_goes_and_the_press_erases(self, owner, doing, family, kept):
        url = reverse("bookings:erase_photos", args=[family.pk])
        page = folded(owner.get(url).content.decode())
        assert page.count("the sitting") == 3
        assert owner.post(url, {}).status_code == 422
        assert Photo.objects.count() == 3
        answer = owner.post(url, {"key": uuid.uuid4()})
        assert answer.headers["Location"] == family.get_absolute_url()
        assert "Nothing to erase" in folded(owner.get(url).content.decode())
        again = owner.post(url, {"key": uuid.uuid4()})
        assert again.status_code == 409
        assert "There is no photograph of this family to erase." in folded(again.content.decode())

    def test_it_is_the_owners_alone(self, helper, family, kept):
        url = reverse("bookings:erase_photos", args=[family.pk])
        assert helper.get(url).status_code == 403
        assert helper.post(url, {"key": uuid.uuid4()}).status_code == 403
        page = folded(helper.get(family.get_absolute_url()).content.decode())
        assert "The owner erases them." in page
        assert url not in page

    def test_the_family_page_and_today_tell_the_owner(self, owner, helper, family, kept):
        url = reverse("bookings:erase_photos", args=[family.pk])
        page = folded(owner.get(family.get_absolute_url()).content.decode())
        assert "Taken back on Wed 25 Nov." in page
        assert url in page
        assert "Erase photographs: Okafor" in folded(owner.get("/").content.decode())
        assert "Erase photographs" not in folded(helper.get("/").content.decode())

    def test_nobody_who_lets_us_keep_them_is_asked_for(self, doing, keep, sitting, clean, unit):
        photos_actions.add_photo(sitting.job, clean=clean, kind="sitting", **doing.who())
        assert families_to_erase(unit) == []
        actions.withdraw_consent(keep, **doing.who())
        (found,) = families_to_erase(unit)
        assert found == (sitting.job.family, 1)


class TestAddPhoto:
    def test_keeps_the_file_the_size_and_one_event(self, doing, keep, sitting, clean):
        piece = sitting.job.pieces.first()
        photo = photos_actions.add_photo(
            sitting.job, clean=clean, kind="sitting", piece=piece, **doing.who()
        )
        with photo.file.open("rb") as kept:
            assert kept.read() == clean.jpeg
        assert (photo.width_px, photo.height_px, photo.piece) == (640, 480, piece)
        assert sitting.job.events.filter(what="add_photo").count() == 1
        assert "Okafor" not in photo.file.name
        for field, jpeg in ((photo.view, clean.view), (photo.thumb, clean.thumb)):
            with field.open("rb") as kept:
                assert kept.read() == jpeg

    def test_a_storage_that_fails_half_way_keeps_nothing(
        self, doing, keep, sitting, clean, unit, monkeypatch
    ):
        def save(storage, name, content, real=FileSystemStorage.save):
            if "thumb" in name:
                raise ConnectionError("The bucket is away.")
            return real(storage, name, content)

        monkeypatch.setattr(FileSystemStorage, "save", save)

        def add():
            photos_actions.add_photo(sitting.job, clean=clean, kind="sitting", **doing.who())

        refused(unit, add, "bucket is away", error=ConnectionError)
        assert files() == []

    def test_the_same_key_twice_is_one_row_and_one_file(self, doing, keep, sitting, clean):
        key = uuid.uuid4()
        for _ in range(2):
            photos_actions.add_photo(sitting.job, clean=clean, kind="sitting", **doing.who(key=key))
        assert Photo.objects.count() == 1
        assert len(files()) == 3

    def test_without_a_yes_nothing_is_kept(self, doing, sitting, clean, unit):
        def add():
            photos_actions.add_photo(sitting.job, clean=clean, kind="sitting", **doing.who())

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
            photos_actions.add_photo(
                sitting.job, clean=clean, kind="sitting", piece=piece, **doing.who()
            )

        refused(unit, lambda: add(other), "another job")
        move(sitting.job, seen=Stage.BOOKED, to=Stage.CALLED_OFF, **doing.who())
        refused(unit, add, error=MoveRefused)
        assert files() == []

    def test_a_row_that_the_database_refuses_leaves_no_file(self, doing, keep, sitting):
        empty = cleaning.CleanPhoto(b"\xff\xd8", 0, 0, b"", b"")
        with pytest.raises(IntegrityError), transaction.atomic():
            photos_actions.add_photo(sitting.job, clean=empty, kind="sitting", **doing.who())
        assert files() == []


class TestPages:
    @pytest.fixture
    def photo(self, doing, keep, sitting, clean):
        return photos_actions.add_photo(sitting.job, clean=clean, kind="sitting", **doing.who())

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

    def test_each_size_is_served_and_no_other(self, owner, photo, clean):
        url = reverse("bookings:photo", args=[photo.public_id])
        sizes = {"full": clean.jpeg, "view": clean.view, "thumb": clean.thumb}
        served = {
            size: b"".join(owner.get(url, {"size": size}).streaming_content) for size in sizes
        }
        assert served == sizes
        for size in ("huge", "", "../../secret"):
            assert owner.get(url, {"size": size}).status_code == 404

    def test_a_photo_from_before_there_were_sizes_is_served_whole(self, owner, photo, clean):
        Photo.objects.update(view="", thumb="")
        url = reverse("bookings:photo", args=[photo.public_id])
        answer = owner.get(url, {"size": "thumb"})
        assert b"".join(answer.streaming_content) == clean.jpeg

    def test_a_list_shows_thumbs_that_load_late(self, owner, photo):
        page = folded(owner.get(photo.job.get_absolute_url()).content.decode())
        url = reverse("bookings:photo", args=[photo.public_id])
        assert f'href="{url}?size=view"' in page
        assert (
            f'src="{url}?size=thumb" alt="the sitting, larger" width="320" height="240" loading="lazy"'
            in page
        )

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
        assert words in folded(answer.content.decode())
        assert files() == []

    def test_without_a_yes_the_page_says_so(self, owner, sitting):
        url = reverse("bookings:add_photo", args=[sitting.job.reference])
        assert "has not agreed" in folded(owner.get(url).content.decode())
        answer = self.send(owner, sitting.job, makers.a_jpeg())
        assert answer.status_code == 409
        assert "has not agreed" in folded(answer.content.decode())

    def test_a_yes_is_written_down_and_a_nameless_one_comes_back(self, owner, family):
        url = reverse("bookings:give_consent", args=[family.pk])
        facts = {"key": uuid.uuid4(), "purpose": "keep", "given_by": ""}
        nameless = owner.post(url, facts)
        assert nameless.status_code == 422
        assert "Write who says yes." in folded(nameless.content.decode())
        assert wording.find_wording("keep").text in folded(nameless.content.decode())
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
