"""Background work: enqueued in a transaction, run by the worker, with stored progress and result.

A kind of work is a registered function. It may run more than once, as a worker can be killed; so each of its steps is
an action with the key `work.key_for(step)`, which does nothing the second time. It runs outside any transaction. Its
result is saved at the end, and only by the attempt that currently holds the work.
"""

import logging
import os
import socket
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django_tasks import TaskResultStatus, task
from django_tasks_db.models import DBTaskResult

from studio.accounts.models import Unit, User
from studio.roles import Role
from studio.stages import ActionRefused, Refused
from studio.work.models import Work

logger = logging.getLogger(__name__)

FOLDER = "work"

FILES_KEPT_FOR = timedelta(days=7)

RETRY_AFTER = timedelta(seconds=10)

# Pages poll every two seconds: more frequent progress would not be seen.
REPORT_EVERY = timedelta(seconds=0.5)

GAVE_UP_ERROR = (
    "It broke off {attempts} times and was left. Nothing of yours is lost. "
    "Try it again; if it breaks off once more, the worker’s log says why."
)


@dataclass(frozen=True, slots=True)
class WorkResult:
    """Result of background work: a sentence, and a page to go on to or a file to open."""

    words: str
    url: str = ""
    file: bytes | None = None
    file_name: str = ""
    content_type: str = "application/pdf"


class Superseded(Exception):
    """Another attempt holds the work: this one stops and saves nothing."""


# Reports progress: steps done, steps in all.
ReportProgress = Callable[[int, int], None]

Kind = Callable[[Work, ReportProgress], WorkResult]

# A job that the worker runs from time to time; yields the work that it enqueued.
Periodic = Callable[[datetime], Iterable[Work]]

_periodic: list[Periodic] = []

_kinds: dict[str, tuple[Kind, tuple[Role, ...]]] = {}


def work_kind(name: str, *roles: Role) -> Callable[[Kind], Kind]:
    """Register the function for a kind of work, and the roles that may start and see it (default: all staff)."""

    def register(kind: Kind) -> Kind:
        _kinds[name] = (kind, roles or (Role.OWNER, Role.HELPER))
        return kind

    return register


def periodic(look: Periodic) -> Periodic:
    """Register a function that the worker calls periodically to enqueue work, with keys that make repeats harmless."""
    _periodic.append(look)
    return look


def run_periodic(now: datetime) -> int:
    """Call all periodic functions; return how much work they enqueued. Failures are logged."""
    asked = 0
    for look in _periodic:
        try:
            asked += sum(1 for _ in look(now))
        except Exception:
            logger.exception("%s broke off.", look.__name__)
    return asked


def may_see(work: Work, role: Role) -> bool:
    """Whether a role may see this work; False for kinds that are no longer registered."""
    return role in _kinds[work.kind][1] if work.kind in _kinds else False


@transaction.atomic
def begin_work(
    unit: Unit,
    kind: str,
    *,
    title: str,
    facts: dict[str, Any],
    by: User | None,
    at: datetime,
    key: UUID,
) -> Work:
    """Enqueue background work of a registered `kind` and return its row. The same key twice is one piece of work.

    `facts` must be JSON. Raises KeyError for a kind that is not registered.
    """
    _kinds[kind]  # raises KeyError
    work, begun = Work.objects.get_or_create(
        unit=unit,
        key=key,
        defaults={"kind": kind, "title": title, "facts": facts, "by": by, "asked_at": at},
    )
    if begun:
        run_work.enqueue(work.pk)
    return work


@transaction.atomic
def retry_work(work: Work, *, at: datetime) -> Work:
    """Enqueue failed work again; unfinished work is returned as it is. Raises ActionRefused if it is done."""
    held = Work.objects.select_for_update().get(pk=work.pk)
    if held.is_unfinished:
        return held
    if held.state != Work.State.FAILED:
        raise ActionRefused("It is done: there is nothing to try again.")
    held.state, held.attempts, held.error = Work.State.WAITING, 0, ""
    held.asked_at, held.finished_at = at, None
    held.save(update_fields=["state", "attempts", "error", "asked_at", "finished_at"])
    run_work.enqueue(held.pk)
    return held


@task()
def run_work(pk: int) -> None:
    """Task of the worker: one attempt at one piece of work."""
    work = _claim(pk, timezone.now())
    if work is None:
        return
    try:
        with timezone.override(work.unit.time_zone):
            made = _kinds[work.kind][0](work, _progress_reporter(work))
        _finish(work, made)
    except Superseded:
        logger.warning("%s went on elsewhere; attempt %s stops.", work, work.attempts)
    except Refused as refused:
        _close(work, state=Work.State.FAILED, error=str(refused))
    except Exception:
        logger.exception("%s broke off at attempt %s.", work, work.attempts)
        _requeue(work, RETRY_AFTER)
    except BaseException:  # the worker is told to stop at once
        _requeue(work, timedelta(0))
        raise


def requeue_abandoned(now: datetime) -> int:
    """Requeue work abandoned by dead workers, and unfinished work missing from the queue; return how many.

    A worker of this machine is dead if its process is gone; one of another machine if its work has run for longer than
    CASTSTEAD_WORK_PATIENCE_S.
    """
    lost = 0
    patience = timedelta(seconds=settings.WORK_PATIENCE_S)
    for row in DBTaskResult.objects.running():
        if _worker_is_dead(row.worker_ids) or (row.started_at and row.started_at < now - patience):
            still = DBTaskResult.objects.running().filter(pk=row.pk, started_at=row.started_at)
            lost += still.update(status=TaskResultStatus.READY)
    queued = {
        row.args_kwargs["args"][0]
        for row in DBTaskResult.objects.exclude(
            status__in=(TaskResultStatus.FAILED, TaskResultStatus.SUCCESSFUL)
        )
        if row.task_path == run_work.module_path
    }
    for pk in Work.objects.unfinished().exclude(pk__in=queued).values_list("pk", flat=True):
        run_work.enqueue(pk)
        lost += 1
    return lost


def delete_old_files(now: datetime) -> None:
    """Delete result files after a week (they may hold names of children), and finished rows of the queue."""
    kept = Work.objects.exclude(file="").filter(finished_at__lt=now - FILES_KEPT_FOR)
    names = dict(kept.values_list("pk", "file"))
    kept.filter(pk__in=names).update(file="")
    for name in {*names.values(), *_orphaned_files(now)}:
        default_storage.delete(name)
    DBTaskResult.objects.finished().filter(finished_at__lt=now - FILES_KEPT_FOR).delete()


def worker_name() -> str:
    """Name of this worker: host and process number, so that others can see whether it is alive, and a random part."""
    return f"{socket.gethostname()[:30]}:{os.getpid()}:{uuid4().hex[:12]}"


def is_alive(pid: int) -> bool:
    """Whether this machine runs a process with that number (zombies excluded)."""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:  # somebody else's
        return True
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:  # a system without /proc
        return True
    return state != "Z"  # a zombie: ended, but not yet collected by its parent


@transaction.atomic
def _claim(pk: int, now: datetime) -> Work | None:
    work = Work.objects.select_for_update(of=("self",)).select_related("unit", "by").get(pk=pk)
    if not work.is_unfinished:
        return None
    if work.attempts >= settings.WORK_ATTEMPTS:  # every attempt ended with its worker killed
        _give_up(work)
        return None
    work.state, work.attempts = Work.State.RUNNING, work.attempts + 1
    work.started_at, work.done, work.total = now, 0, 0
    work.save(update_fields=["state", "attempts", "started_at", "done", "total"])
    return work


def _progress_reporter(work: Work) -> ReportProgress:
    said_at: datetime | None = None

    def tell(done: int, total: int) -> None:
        nonlocal said_at
        now = timezone.now()
        if said_at and now - said_at < REPORT_EVERY and done < total:
            return
        said_at = now
        if not _held_row(work).update(done=done, total=total):
            raise Superseded

    return tell


def _held_row(work: Work) -> "Any":
    """Queryset of the row, empty once another attempt holds it."""
    return Work.objects.filter(pk=work.pk, state=Work.State.RUNNING, attempts=work.attempts)


def _finish(work: Work, made: WorkResult) -> None:
    name = ""
    if made.file is not None:
        name = default_storage.save(f"{FOLDER}/{uuid4().hex}", ContentFile(made.file))
    try:
        _close(
            work,
            state=Work.State.DONE,
            done=F("total"),
            words=made.words,
            url=made.url,
            file=name,
            file_name=made.file_name,
            content_type=made.content_type,
        )
    except BaseException:
        if name:
            default_storage.delete(name)
        raise


def _close(work: Work, **facts: Any) -> None:
    if not _held_row(work).update(finished_at=timezone.now(), **facts):
        raise Superseded


@transaction.atomic
def _requeue(work: Work, pause: timedelta) -> None:
    if work.attempts >= settings.WORK_ATTEMPTS:
        _give_up(work)
    elif _held_row(work).update(state=Work.State.WAITING):
        run_work.using(run_after=timezone.now() + pause).enqueue(work.pk)


def _give_up(work: Work) -> None:
    Work.objects.unfinished().filter(pk=work.pk, attempts=work.attempts).update(
        state=Work.State.FAILED,
        error=GAVE_UP_ERROR.format(attempts=work.attempts),
        finished_at=timezone.now(),
    )


def _worker_is_dead(worker_ids: list[str]) -> bool:
    machine, _, rest = (worker_ids[-1] if worker_ids else "").partition(":")
    pid = rest.partition(":")[0]
    return machine == socket.gethostname()[:30] and pid.isdigit() and not is_alive(int(pid))


def _orphaned_files(now: datetime) -> Iterable[str]:
    try:
        _, files = default_storage.listdir(FOLDER)
    except FileNotFoundError:  # before the first file
        return []
    names = (f"{FOLDER}/{name}" for name in files if name)
    return [
        name for name in names if default_storage.get_modified_time(name) < now - FILES_KEPT_FOR
    ]
