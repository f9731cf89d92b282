"""From the rack into the frame, and the frame to ready."""

import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from bookings.consent import actions as consent_actions
from bookings.photos import actions as photos_actions
from bookings.photos import cleaning
from production.bench import framing as bench_framing
from production.bench import weighing
from studio.stages import ActionRefused, MovedMeanwhile, MoveRefused, Stage, missing
from tests import makers
from tests.parts.markup import folded
from tests.production.conftest import casts_of, press


@pytest.fixture
def by(owner):
    return owner.user


def facts(by):
    return {"by": by, "at": timezone.now(), "key": uuid.uuid4()}


def tick_all(job, by):
    for step in bench_framing.FRAME_STEPS:
        bench_framing.tick_frame(job, step=step, **facts(by))


def let_keep_photos(job, by):
    consent_actions.give_consent(job.family, purpose="keep", given_by="Sam", **facts(by))


def test_starting_takes_the_casts_off_the_rack(by, framing):
    assert not framing.unit.casts.with_place().exists()
    assert framing.frame.glazed


def test_a_frame_may_be_left_open(by, on_rack):
    for cast in casts_of(on_rack):
        weighing.release_dry(cast, why="rings", **facts(by))
    frame = bench_framing.start_framing(on_rack, seen=Stage.DRYING, glazed=False, **facts(by))
    assert not frame.glazed


def test_a_damp_piece_is_not_framed(by, on_rack):
    weighing.release_dry(casts_of(on_rack)[0], why="rings", **facts(by))
    with pytest.raises(MoveRefused, match="Not dry yet: Ada, right hand"):
        bench_framing.start_framing(on_rack, seen=Stage.DRYING, **facts(by))
    assert on_rack.unit.casts.with_place().count() == 2


def test_what_was_seen_is_compared_with_what_stands(by, framing):
    with pytest.raises(MovedMeanwhile, match=r"Framing.*Drying"):
        bench_framing.start_framing(framing, seen=Stage.DRYING, **facts(by))


def test_a_frame_is_ready_after_five_ticks(by, framing):
    assert missing(framing, Stage.READY) == [
        "Still to tick: mounted, closed, backed, sealed, checked."
    ]
    tick_all(framing, by)
    bench_framing.make_ready(framing, seen=Stage.FRAMING, **facts(by))
    framing.refresh_from_db()
    assert framing.stage == Stage.READY


def test_a_tick_is_taken_back(by, framing):
    tick_all(framing, by)
    bench_framing.tick_frame(framing, step="sealed", done=False, **facts(by))
    assert missing(framing, Stage.READY) == ["Still to tick: sealed."]


def test_a_tick_already_there_leaves_no_second_event(by, framing):
    for _ in range(2):
        bench_framing.tick_frame(framing, step="mounted", **facts(by))
    assert framing.events.filter(what="tick_frame").count() == 1


def test_an_unknown_step_is_refused(by, framing):
    with pytest.raises(ActionRefused, match="no such step"):
        bench_framing.tick_frame(framing, step="gilded", **facts(by))


def test_the_finished_frame_is_photographed_if_the_family_lets_us(by, framing):
    tick_all(framing, by)
    let_keep_photos(framing, by)
    assert missing(framing, Stage.READY) == ["Photograph the finished frame first."]
    clean = cleaning.clean(SimpleUploadedFile("frame.jpg", makers.a_jpeg()))
    photos_actions.add_photo(framing, clean=clean, kind="sitting", **facts(by))
    assert missing(framing, Stage.READY), "a picture of the sitting is none of the frame"
    photos_actions.add_photo(framing, clean=clean, kind="finished", **facts(by))
    assert not missing(framing, Stage.READY)


def test_a_frame_taken_back_is_checked_again(by, ready):
    with pytest.raises(ActionRefused, match="what is wrong"):
        bench_framing.reopen_frame(ready, seen=Stage.READY, why=" ", **facts(by))
    event = bench_framing.reopen_frame(ready, seen=Stage.READY, why="a hair in it", **facts(by))
    ready.refresh_from_db()
    assert (ready.stage, event.why) == (Stage.FRAMING, "a hair in it")
    assert missing(ready, Stage.READY) == ["Still to tick: checked."]


def test_the_bench_photographs_and_finishes_a_frame_by_its_own_buttons(owner, by, framing):
    let_keep_photos(framing, by)
    bench = reverse("production:bench")
    assert 'type="file"' in folded(owner.get(bench).content.decode())
    for step in bench_framing.FRAME_STEPS:
        press(owner, "tick_frame", framing.reference, step=step, done="yes")
    assert "It is ready" not in folded(owner.get(bench).content.decode())
    sent = owner.post(
        reverse("bookings:add_photo", args=[framing.reference]),
        {
            "key": uuid.uuid4(),
            "kind": "finished",
            "back": f"{bench}#frame-{framing.reference}",
            "photo": SimpleUploadedFile("frame.jpg", makers.a_jpeg()),
        },
    )
    assert (sent.status_code, sent.url) == (302, f"{bench}#frame-{framing.reference}")
    assert "It is ready" in folded(owner.get(bench).content.decode())
    assert press(owner, "make_ready", framing.reference, seen="framing").status_code == 302


def test_a_tick_by_htmx_answers_with_the_frame_alone(owner, framing):
    url = reverse("production:tick_frame", args=[framing.reference])
    sent = {"key": uuid.uuid4(), "step": "mounted", "done": "yes"}
    answer = owner.post(url, sent, headers={"hx-request": "true"})
    part = folded(answer.content.decode())
    assert answer.status_code == 200
    assert f'id="frame-{framing.reference}"' in part
    assert "<html" not in part
    assert part.count('aria-pressed="true"') == 1


def test_a_tampered_press_is_refused_with_a_sentence(owner, framing):
    answer = press(owner, "tick_frame", framing.reference, step="gilded", done="yes")
    assert answer.status_code == 409
    assert "gilded" in folded(answer.content.decode())
