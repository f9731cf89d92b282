"""The real worker process, killed half-way, told to stop, left behind. Run on both databases."""

import os
import signal
import subprocess
import sys
import uuid

import pytest
from django.utils import timezone

from studio.jobs.models import Job, JobEvent
from studio.work import queue
from studio.work.models import Work
from tests import makers
from tests.faults.halting import HALT_AT, open_jobs
from tests.faults.test_processes import ROOT, address

JOBS, PATIENCE_S = 6, 60


@pytest.fixture
def a_worker(settings):
    """Starts the site's own worker; none outlives the test."""
    begun = []

    def start(*options):
        worker = subprocess.Popen(
            [sys.executable, "manage.py", "work", "--interval", "0.1", *options],
            cwd=ROOT,
            env={
                **os.environ,
                "DJANGO_SETTINGS_MODULE": "tests.faults.worker_settings",
                "DATABASE_URL": address(),
                "CASTSTEAD_MEDIA": str(settings.MEDIA_ROOT),
                "DEBUG": "true",
                "PYTHONWARNINGS": "ignore",
            },
            stdout=subprocess.PIPE,
            text=True,
        )
        begun.append(worker)
        return worker

    yield start
    for worker in begun:
        worker.kill()
        worker.communicate()


@pytest.fixture
def work(transactional_db, monkeypatch):
    monkeypatch.setitem(queue._kinds, "open jobs", (open_jobs, ()))  # the worker has it by itself
    unit = makers.a_unit()
    family = makers.a_family(unit)
    return queue.begin_work(
        unit,
        "open jobs",
        title="Opening",
        facts={"family": family.pk, "jobs": JOBS},
        by=makers.owner_of(unit),
        at=timezone.now(),
        key=uuid.uuid4(),
    )


def test_a_worker_killed_half_way_leaves_work_that_the_next_does_once(work, a_worker):
    killed = a_worker()
    assert killed.stdout.readline() == "half-way\n"
    killed.kill()
    killed.wait(PATIENCE_S)
    work.refresh_from_db()
    assert (work.state, work.attempts, Job.objects.count()) == ("running", 1, HALT_AT)

    assert a_worker("--batch").wait(PATIENCE_S) == 0
    work.refresh_from_db()
    assert (work.state, work.attempts, work.done) == ("done", 2, JOBS)
    assert Job.objects.count() == JobEvent.objects.count() == JOBS
    assert Work.objects.count() == 1


def test_a_worker_told_twice_to_stop_gives_the_work_back(work, a_worker):
    worker = a_worker()
    assert worker.stdout.readline() == "half-way\n"
    worker.send_signal(signal.SIGTERM)  # ends after what it is doing, which never ends
    worker.send_signal(signal.SIGINT)
    try:
        worker.wait(PATIENCE_S / 4)
    except subprocess.TimeoutExpired:  # a busy machine delivered both at once: they counted as one
        worker.send_signal(signal.SIGINT)
        worker.wait(PATIENCE_S)
    work.refresh_from_db()
    assert (work.state, Job.objects.count()) == ("waiting", HALT_AT)
    assert a_worker("--batch").wait(PATIENCE_S) == 0
    work.refresh_from_db()
    assert (work.state, Job.objects.count()) == ("done", JOBS)


def test_an_idle_worker_ends_with_the_process_it_stands_beside(transactional_db, a_worker):
    beside = subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE)
    worker = a_worker("--beside", str(beside.pid))
    assert worker.poll() is None
    beside.communicate(b"\n")
    assert worker.wait(PATIENCE_S) == 0
