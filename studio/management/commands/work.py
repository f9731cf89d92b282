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

from studio.work import clear_old, is_alive, take_up_lost, tend, worker_name

TEND_EVERY_S = 20


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
        take_up_lost(now)
        clear_old(now)
        connection.close()
        if beside:
            threading.Thread(target=_end_with, args=[beside], daemon=True).start()
        if not options["batch"]:
            threading.Thread(target=_tend, daemon=True).start()
        super().handle(**options)


def _tend() -> None:
    while True:
        tend(timezone.now())
        connection.close()  # of this thread
        time.sleep(TEND_EVERY_S)


def _end_with(pid: int) -> None:
    while is_alive(pid):
        time.sleep(1)
    os.kill(os.getpid(), signal.SIGTERM)
