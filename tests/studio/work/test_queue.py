"""Long work: asked for once, done once, broken off and taken up again, seen by whom it concerns."""

import uuid
from datetime import timedelta

import pytest
from django.core.files.storage import default_storage
from django.urls import reverse
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from studio.roles import Role
from studio.stages import ActionRefused
from studio.work import queue
from studio.work.models import Work
from tests.addresses import look
from tests.working import work_off

pytestmark = pytest.mark.django_db

TRIED = []


@pytest.fixture(autouse=True)
def kinds(monkeypatch):
    """Kinds of work that only these tests know."""
    TRIED.clear()
    monkeypatch.setattr(queue, "_kinds", dict(queue._kinds))

    @queue.work_kind("count")
    def count(work, tell):
        TRIED.append(work.facts["to"])
        for number in range(work.facts["to"]):
            tell(number + 1, work.facts["to"])
        return queue.WorkResult("Counted.", url="/bench/", file=b"one two", file_name="count.txt")

    @queue.work_kind("stumble", Role.OWNER)
    def stumble(work, tell):
        TRIED.append(work.attempts)
        if work.attempts <= work.facts["times"]:
            raise OSError("the disk is full")
        return queue.WorkResult("Got up.")

    @queue.work_kind("refuse")
    def refuse(work, tell):
        raise ActionRefused("There is no plaster.")

    @queue.work_kind("told to stop")
    def told_to_stop(work, tell):
        TRIED.append(work.attempts)
        if work.attempts == 1:
            raise SystemExit(1)
        return queue.WorkResult("Done after all.")


def ask(unit, by, kind, key=None, **facts):
    return queue.begin_work(
        unit,
        kind,
        title="Counting",
        facts=facts,
        by=by.user,
        at=timezone.now(),
        key=key or uuid.uuid4(),
    )


def again(work):
    work.refresh_from_db()
    return work


def test_what_is_asked_for_is_done_and_its_file_kept(unit, owner):
    work = ask(unit, owner, "count", to=3)
    assert (work.state, work.is_unfinished) == ("waiting", True)
    assert work_off() == 1
    assert (again(work).state, work.done, work.total, work.words) == ("done", 3, 3, "Counted.")
    response = owner.get(reverse("studio:work_file", args=[work.pk]))
    assert b"".join(response.streaming_content) == b"one two"
    assert response["Cache-Control"] == "private, no-store"


def test_the_same_key_twice_is_one_work(unit, owner):
    key = uuid.uuid4()
    assert ask(unit, owner, "count", key, to=3) == ask(unit, owner, "count", key, to=3)
    assert (work_off(), TRIED) == (1, [3])


def test_the_queue_giving_it_out_twice_does_it_once(unit, owner):
    work = ask(unit, owner, "count", to=3)
    queue.run_work.enqueue(work.pk)
    assert (work_off(), TRIED) == (2, [3])


def test_what_stumbles_is_tried_again_and_then_left_with_a_sentence(unit, owner, settings):
    settings.WORK_ATTEMPTS = 3
    gets_up, stays_down = (ask(unit, owner, "stumble", times=times) for times in (2, 3))
    assert work_off() == 6
    assert (again(gets_up).state, gets_up.attempts) == ("done", 3)
    assert (again(stays_down).state, stays_down.attempts) == ("failed", 3)
    assert "broke off 3 times" in stays_down.error


def test_a_refusal_is_told_at_once(unit, owner):
    work = ask(unit, owner, "refuse")
    assert work_off() == 1
    assert (again(work).state, work.error) == ("failed", "There is no plaster.")
    page = owner.get(work.get_absolute_url()).content.decode()
    assert "There is no plaster." in page
    assert "Try it again" in page


def test_a_worker_told_to_stop_at_once_gives_the_work_back(unit, owner):
    work = ask(unit, owner, "told to stop")
    assert work_off() == 2
    assert (again(work).state, TRIED) == ("done", [1, 2])


def test_one_attempt_that_was_taken_for_dead_changes_nothing(unit, owner):
    work = queue._claim(ask(unit, owner, "count", to=3).pk, timezone.now())
    later = queue._claim(work.pk, timezone.now())
    with pytest.raises(queue.Superseded):
        queue._progress_reporter(work)(1, 3)
    with pytest.raises(queue.Superseded):
        queue._finish(work, queue.WorkResult("Too late.", file=b"old"))
    assert default_storage.listdir("work")[1] == []
    queue._finish(later, queue.WorkResult("In time."))
    assert (again(work).words, work.state) == ("In time.", "done")


def test_work_that_ends_every_worker_is_left(unit, owner, settings):
    settings.WORK_ATTEMPTS = 2
    work = ask(unit, owner, "count", to=3)
    for _ in range(2):  # each killed before it could say anything
        queue._claim(work.pk, timezone.now())
    assert (work_off(), TRIED) == (1, [])
    assert again(work).state == "failed"


def gone(unit, owner, worker, *, ago=timedelta(0)):
    """A work that a worker of that name began so long ago."""
    work = ask(unit, owner, "count", to=3)
    row = DBTaskResult.objects.get(args_kwargs__args=[work.pk])
    row.claim(worker)
    DBTaskResult.objects.filter(pk=row.pk).update(started_at=timezone.now() - ago)
    queue._claim(work.pk, timezone.now())
    return work


def test_a_worker_that_starts_takes_up_what_dead_ones_left(unit, owner, settings):
    settings.WORK_PATIENCE_S = 900
    alive = queue.worker_name()
    machine = alive.split(":")[0]
    dead_here = gone(unit, owner, f"{machine}:99999999:x")
    long_elsewhere = gone(unit, owner, "elsewhere:12:x", ago=timedelta(minutes=16))
    at_it_elsewhere = gone(unit, owner, "elsewhere:12:x", ago=timedelta(minutes=14))
    at_it_here = gone(unit, owner, alive)
    assert queue.requeue_abandoned(timezone.now()) == 2
    assert work_off() == 2
    assert [again(each).state for each in (dead_here, long_elsewhere)] == ["done"] * 2
    assert [again(each).state for each in (at_it_elsewhere, at_it_here)] == ["running"] * 2


def test_work_that_the_queue_lost_is_queued_again(unit, owner):
    work = ask(unit, owner, "count", to=3)
    DBTaskResult.objects.all().delete()
    assert queue.requeue_abandoned(timezone.now()) == 1
    assert queue.requeue_abandoned(timezone.now()) == 0
    assert (work_off(), again(work).state) == (1, "done")


def test_files_go_after_a_week(unit, owner):
    work, fresh = ask(unit, owner, "count", to=3), ask(unit, owner, "count", to=4)
    work_off()
    name = again(work).file
    Work.objects.filter(pk=work.pk).update(finished_at=timezone.now() - timedelta(days=8))
    queue.delete_old_files(timezone.now())
    assert not default_storage.exists(name)
    assert default_storage.exists(again(fresh).file)
    assert "kept for a week and is gone" in owner.get(work.get_absolute_url()).content.decode()
    assert owner.get(reverse("studio:work_file", args=[work.pk])).status_code == 404


def test_the_page_says_how_far_it_is_and_asks_again_only_while_it_goes_on(unit, owner):
    work = ask(unit, owner, "count", to=3)
    page = owner.get(work.get_absolute_url()).content.decode()
    assert 'hx-trigger="every 2s"' in page
    assert "Waiting its turn" in page
    assert "Look again" in page  # without a script
    Work.objects.filter(pk=work.pk).update(state="running", attempts=2, done=2, total=3)
    part = owner.get(work.get_absolute_url(), headers={"HX-Request": "true"}).content.decode()
    assert "2 of 3" in part
    assert "taken up again" in part
    assert "<html" not in part
    Work.objects.filter(pk=work.pk).update(state="done", words="Yes.", finished_at=timezone.now())
    assert "hx-trigger" not in owner.get(work.get_absolute_url()).content.decode()


def test_what_broke_off_is_tried_again_by_a_press(unit, owner):
    work = ask(unit, owner, "stumble", times=9)
    work_off()
    url, key = reverse("studio:retry_work", args=[work.pk]), {"key": str(uuid.uuid4())}
    Work.objects.filter(pk=work.pk).update(facts={"times": 0})
    assert [owner.post(url, key)["Location"] for _ in range(2)] == [work.get_absolute_url()] * 2
    assert (work_off(), again(work).state) == (1, "done")
    assert owner.post(url, key).status_code == 409
    assert owner.get(url).status_code == 405


def test_who_may_see_it(unit, owner, helper, stranger):
    shared, owners = ask(unit, owner, "count", to=1), ask(unit, owner, "stumble", times=0)
    work_off()
    for name in ("work", "work_file"):
        assert stranger.get(reverse(f"studio:{name}", args=[shared.pk])).status_code == 404
        assert look(helper, reverse(f"studio:{name}", args=[shared.pk])).status_code == 200
        assert helper.get(reverse(f"studio:{name}", args=[owners.pk])).status_code == 403
    retry = reverse("studio:retry_work", args=[owners.pk])
    assert helper.post(retry, {"key": str(uuid.uuid4())}).status_code == 403
    assert stranger.post(retry, {"key": str(uuid.uuid4())}).status_code == 404
