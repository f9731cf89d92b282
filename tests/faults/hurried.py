"""A process of its own that moves the jobs it is told, as soon as it is told to begin.

Run by test_processes.py with the references as arguments; prints one word for each job.
"""

import sys
import uuid

import django

django.setup()

from django.db import OperationalError  # noqa: E402 - only after the setup
from django.utils import timezone  # noqa: E402

from studio import stages  # noqa: E402
from studio.jobs.models import Job  # noqa: E402
from studio.stages import MovedMeanwhile, Stage  # noqa: E402

stages._gates.clear()  # the gates are tested apart
jobs = list(Job.objects.filter(reference__in=sys.argv[1:]).order_by("pk"))
sys.stdout.write("ready\n")
sys.stdout.flush()
sys.stdin.readline()
for job in jobs:
    try:
        stages.move(
            job,
            seen=Stage.BOOKED,
            to=Stage.CLAY_REST,
            by=None,
            at=timezone.now(),
            key=uuid.uuid4(),
        )
        sys.stdout.write("moved\n")
    except MovedMeanwhile:
        sys.stdout.write("told\n")
    except OperationalError as error:
        sys.stdout.write(f"{error}\n")
