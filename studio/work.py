"""Long work in the background: asked for in a transaction, done by the worker, its progress kept.

A kind of work is a function under a name. It may run more than once (a worker can be killed), so
each of its steps is an action with the key `work.key_for(step)`: the second time it finds what the
first did. It runs outside every transaction; what it makes is written down at its end, and only by
the attempt that holds the work.
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

from studio.actions import ActionRefused
from studio.models import Role, Unit, User, Work
from studio.stages import Refused

logger = logging.getLogger(__name__)

FOLDER = "work"
KEPT_FOR = timedelta(days=7)
PAUSE = timedelta(seconds=10)
# A page that asks every two seconds sees no more than this.
TELL_EVERY = timedelta(seconds=0.5)
BROKE_OFF = (
    "It broke off {attempts} times and was left. Nothing of yours is lost. "
    "Try it again; if it breaks off once more, the worker’s log says why."
)


@dataclass(frozen=True, slots=True)
class Made:
    """What came of it: a sentence, and a page to go on to or a file to open."""

    words: str
    url: str = ""
    file: bytes | None = None
    file_name: str = ""
    content_type: str = "application/pdf"


class Superseded(Exception):
    """Another attempt holds the work: this one stops and writes nothing."""


# Says how far it is: steps done, of how many.
Tell = Callable[[int, int], None]
Kind = Callable[[Work, Tell], Made]

# What the worker looks after by itself from time to time; each says what it asked for.
Tended = Callable[[datetime], Iterable[Work]]

_tended: list[Tended] = []
_kinds: dict[str, tuple[Kind, tuple[Role, ...]]] = {}


def work_kind(name: str, *roles: Role) -> Callable[[Kind], Kind]:
    """Register how one kind of work is done, and who may ask for it and see it."""

    def register(kind: Kind) -> Kind:
        _kinds[name] = (kind, roles or (Role.OWNER, Role.HELPER))
        return kind

    return register


def tended(look: Tended) -> Tended:
    """Register something that the worker looks after: it asks for work, under keys that repeat."""
    _tended.append(look)
    return look


def tend(now: datetime) -> int:
    """Look after all that is registered; how much work that asked for. One that fails is logged."""
    asked = 0
    for look in _tended:
        try:
            asked += sum(1 for _ in look(now))
        except Exception:
            logger.exception("%s broke off.", look.__name__)
    return asked


def may_see(work: Work, role: Role) -> bool:
    """Whether the person's role may look at it; nobody may at a kind that is known no more."""
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
    """Ask the worker for it; the row tells how far it is. The same key twice is one work.

    `facts` is JSON: names and numbers, never rows.
    """
    _kinds[kind]  # a name that nobody registered is a fault of ours: KeyError
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
    """Begin one again that broke off. Raises ActionRefused for any other; twice is once."""
    held = Work.objects.select_for_update().get(pk=work.pk)
    if held.goes_on:
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
    """What the worker calls: one attempt at one work."""
    work = _claim(pk, timezone.now())
    if work is None:
        return
    try:
        with timezone.override(work.unit.time_zone):
            made = _kinds[work.kind][0](work, _teller(work))
        _finish(work, made)
    except Superseded:
        logger.warning("%s went on elsewhere; attempt %s stops.", work, work.attempts)
    except Refused as refused:
        _close(work, state=Work.State.FAILED, error=str(refused))
    except Exception:
        logger.exception("%s broke off at attempt %s.", work, work.attempts)
        _put_back(work, PAUSE)
    except BaseException:  # the worker is told to stop at once
        _put_back(work, timedelta(0))
        raise


def take_up_lost(now: datetime) -> int:
    """Give back what workers left that are no more; how many pieces of work that were.

    A worker of this machine is gone when its process is; one of another machine when its work runs
    longer than CASTSTEAD_WORK_PATIENCE_S.
    """
    lost = 0
    patience = timedelta(seconds=settings.WORK_PATIENCE_S)
    for row in DBTaskResult.objects.running():
        if _is_gone(row.worker_ids) or (row.started_at and row.started_at < now - patience):
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


def clear_old(now: datetime) -> None:
    """Delete files after a week (they may hold names of children), and the queue's old rows."""
    kept = Work.objects.exclude(file="").filter(finished_at__lt=now - KEPT_FOR)
    names = dict(kept.values_list("pk", "file"))
    kept.filter(pk__in=names).update(file="")
    for name in {*names.values(), *_orphans(now)}:
        default_storage.delete(name)
    DBTaskResult.objects.finished().filter(finished_at__lt=now - KEPT_FOR).delete()


def worker_name() -> str:
    """Of this process: its machine and number, so that others can see whether it still lives."""
    return f"{socket.gethostname()[:30]}:{os.getpid()}:{uuid4().hex[:12]}"


def is_alive(pid: int) -> bool:
    """Whether this machine runs a process of that number."""
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
    return state != "Z"  # ended, and nobody asked for its end yet


@transaction.atomic
def _claim(pk: int, now: datetime) -> Work | None:
    work = Work.objects.select_for_update(of=("self",)).select_related("unit", "by").get(pk=pk)
    if not work.goes_on:
        return None
    if work.attempts >= settings.WORK_ATTEMPTS:  # each ended with its worker
        _left(work)
        return None
    work.state, work.attempts = Work.State.RUNNING, work.attempts + 1
    work.started_at, work.done, work.total = now, 0, 0
    work.save(update_fields=["state", "attempts", "started_at", "done", "total"])
    return work


def _teller(work: Work) -> Tell:
    said_at: datetime | None = None

    def tell(done: int, total: int) -> None:
        nonlocal said_at
        now = timezone.now()
        if said_at and now - said_at < TELL_EVERY and done < total:
            return
        said_at = now
        if not _mine(work).update(done=done, total=total):
            raise Superseded

    return tell


def _mine(work: Work) -> "Any":
    """The row, as long as this attempt holds it."""
    return Work.objects.filter(pk=work.pk, state=Work.State.RUNNING, attempts=work.attempts)


def _finish(work: Work, made: Made) -> None:
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
    if not _mine(work).update(finished_at=timezone.now(), **facts):
        raise Superseded


@transaction.atomic
def _put_back(work: Work, pause: timedelta) -> None:
    if work.attempts >= settings.WORK_ATTEMPTS:
        _left(work)
    elif _mine(work).update(state=Work.State.WAITING):
        run_work.using(run_after=timezone.now() + pause).enqueue(work.pk)


def _left(work: Work) -> None:
    Work.objects.unfinished().filter(pk=work.pk, attempts=work.attempts).update(
        state=Work.State.FAILED,
        error=BROKE_OFF.format(attempts=work.attempts),
        finished_at=timezone.now(),
    )


def _is_gone(worker_ids: list[str]) -> bool:
    machine, _, rest = (worker_ids[-1] if worker_ids else "").partition(":")
    pid = rest.partition(":")[0]
    return machine == socket.gethostname()[:30] and pid.isdigit() and not is_alive(int(pid))


def _orphans(now: datetime) -> Iterable[str]:
    try:
        _, files = default_storage.listdir(FOLDER)
    except FileNotFoundError:  # before the first file
        return []
    names = (f"{FOLDER}/{name}" for name in files if name)
    return [name for name in names if default_storage.get_modified_time(name) < now - KEPT_FOR]
