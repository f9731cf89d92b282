"""Several processes move the same jobs at once; the control shows that the test can see a fault."""

import os
import subprocess
import sys
import uuid
from collections import Counter
from pathlib import Path

import pytest
from django.db import connection
from django.utils import timezone

from studio.jobs.actions import open_job
from studio.jobs.models import Job, JobEvent
from studio.limbs import Limb
from studio.stages import Stage
from tests import makers

ROOT = Path(__file__).resolve().parents[2]
JOBS, PROCESSES = 40, 4


def address():
    """The test's own database, as another process names it."""
    facts = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{facts['NAME']}"
    return f"postgres://{facts['USER']}@{facts['HOST']}:{facts['PORT']}/{facts['NAME']}"


@pytest.fixture
def jobs(transactional_db):
    unit = makers.a_unit()
    by = makers.owner_of(unit)
    family = makers.a_family(unit)
    wanted = [(family.children.get(), Limb.LEFT_HAND)]
    return [
        open_job(
            family, wanted=wanted, promised_on=None, by=by, at=timezone.now(), key=uuid.uuid4()
        )
        for _ in range(JOBS)
    ]


def race(jobs, settings):
    """What each process said of each job, counted."""
    people = [
        subprocess.Popen(
            [sys.executable, "-m", "tests.faults.hurried", *(job.reference for job in jobs)],
            cwd=ROOT,
            env={
                **os.environ,
                "DJANGO_SETTINGS_MODULE": settings,
                "DATABASE_URL": address(),
                "DEBUG": "true",
                "PYTHONWARNINGS": "ignore",
            },
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        for _ in range(PROCESSES)
    ]
    for person in people:
        assert person.stdout.readline() == "ready\n"
    for person in people:
        person.stdin.write("go\n")
        person.stdin.flush()
    said = Counter()
    for person in people:
        words, _ = person.communicate()
        said.update(words.splitlines())
    return said


def test_processes_moving_the_same_jobs_make_one_move_each(jobs):
    said = race(jobs, "studio.settings")
    assert said == {"moved": JOBS, "told": JOBS * (PROCESSES - 1)}
    assert Job.objects.at(Stage.CLAY_REST).count() == JOBS
    assert JobEvent.objects.moves().count() == JOBS


@pytest.mark.skipif(connection.vendor != "sqlite", reason="the unsafe setting is SQLite's")
def test_without_immediate_transactions_the_same_race_goes_wrong(jobs):
    said = race(jobs, "tests.faults.unsafe_settings")
    assert said["database is locked"] > 0
