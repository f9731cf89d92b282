"""The worker: `db_worker` that first gives back what killed workers left, and knows when to end."""

import os
import signal
import sys
import threading
import time
from argparse import ArgumentParser
from typing import Any

from django.db import connection
from django.utils import timezone
from django_tasks_db.management.commands.db_worker import Command as Worker

from studio.work.queue import (
    delete_old_files,
    is_alive,
    requeue_abandoned,
    run_periodic,
    worker_name,
)

PERIODIC_EVERY_S = 20


class Command(Worker):
    help = (
        "Does the long work that pages ask for: sheets, plans, batches of invoices. Start as many as "
        "you like; each first takes up what a killed one left."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        super().add_arguments(parser)
        parser.add_argument(
            "--beside",
            type=int,
            metavar="PID",
            help="end when the process of that number has ended",
        )
        parser.set_defaults(reload=False, worker_id=worker_name())

    def handle(self, *, beside: int | None, **options: Any) -> None:  # type: ignore[override]
        signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))  # until the worker has its own
        now = timezone.now()
        requeue_abandoned(now)
        delete_old_files(now)
        connection.close()
        if beside:
            threading.Thread(target=_end_with_process, args=[beside], daemon=True).start()
        if not options["batch"]:
            threading.Thread(target=_run_periodic, daemon=True).start()
        super().handle(**options)


def _run_periodic() -> None:
    while True:
        run_periodic(timezone.now())
        connection.close()  # of this thread
        time.sleep(PERIODIC_EVERY_S)


def _end_with_process(pid: int) -> None:
    while is_alive(pid):
        time.sleep(1)
    os.kill(os.getpid(), signal.SIGTERM)
