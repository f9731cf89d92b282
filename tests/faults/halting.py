"""An app with a kind of work that opens jobs one by one and, at its first attempt, halts half-way."""

import sys
import time

from django.apps import AppConfig
from django.utils import timezone

HALT_AT = 3


class Halting(AppConfig):
    name = "tests.faults"
    label = "halting"

    def ready(self):
        from studio.work.queue import work_kind  # noqa: PLC0415 - only after the set-up

        work_kind("open jobs")(open_jobs)


def open_jobs(work, tell):
    from studio.families.models import Family  # noqa: PLC0415
    from studio.jobs.actions import open_job  # noqa: PLC0415 - only after the set-up
    from studio.limbs import Limb  # noqa: PLC0415
    from studio.work.queue import WorkResult  # noqa: PLC0415

    family = Family.objects.get(pk=work.facts["family"])
    wanted = [(family.children.get(), Limb.LEFT_HAND)]
    for number in range(work.facts["jobs"]):
        open_job(
            family,
            wanted=wanted,
            promised_on=None,
            by=work.by,
            at=timezone.now(),
            key=work.key_for(number),
        )
        tell(number + 1, work.facts["jobs"])
        if work.attempts == 1 and number + 1 == HALT_AT:
            sys.stdout.write("half-way\n")
            sys.stdout.flush()
            while True:  # pause() would miss the signals that come just before it
                time.sleep(0.05)
    return WorkResult("Opened.", file=b"all", file_name="all.txt")
