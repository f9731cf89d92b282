"""Taking in what a tablet says: each entry once, each in a transaction of its own."""

import json
import logging
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from typing import Any
from uuid import uuid5

from django.db import InterfaceError, OperationalError, transaction

from studio.actions import lock_unit
from studio.models import Membership, Role, TabletEntry, Unit, User
from studio.stages import Refused
from studio.tablet import Answer, Entry, kind_of

logger = logging.getLogger(__name__)

State, Choice = TabletEntry.State, TabletEntry.Choice


def keep_entries(
    unit: Unit, *, entries: Iterable[Entry], by: User, at: datetime
) -> list[TabletEntry]:
    """Take in a tablet's entries in their order; one that is refused holds up none of the others.

    A key that came before is the earlier row; with other content it is a conflict beside it.
    """
    return [keep_entry(unit, entry=entry, by=by, at=at) for entry in entries]


@transaction.atomic
def keep_entry(unit: Unit, *, entry: Entry, by: User, at: datetime) -> TabletEntry:
    """Take in one entry; `at` is when it arrived. Never raises a Refused: that is its answer."""
    unit = lock_unit(unit)
    if earlier := unit.tablet_entries.filter(key=entry.key).first():
        return earlier if _says(earlier, entry) else _keep_beside(unit, earlier, entry, by, at)
    if unit.tablet_entries.filter(device=entry.device, seq=entry.seq).exists():
        entry = replace(entry, seq=None)
    row = _row(unit, entry, _answer(unit, entry, by=by), by=by, at=at)
    _settle_earlier(row, by=by, at=at)
    return row


@transaction.atomic
def note_entry(unit: Unit, *, entry: Entry, by: User, at: datetime) -> TabletEntry:
    """Note something that was taken in by other means, as a photograph is; twice is once."""
    unit = lock_unit(unit)
    if earlier := unit.tablet_entries.filter(key=entry.key).first():
        return earlier
    return _row(unit, entry, Answer(), by=by, at=at)


@transaction.atomic
def settle_entry(
    row: TabletEntry, *, choice: str, seen: int | None = None, by: User, at: datetime
) -> TabletEntry:
    """Choose about an entry that was refused or said otherwise by somebody else.

    “theirs” leaves what stands; “mine” takes the entry in, as by somebody who has seen version
    `seen`, and may be refused or find another conflict: then it goes on waiting. Twice is once.
    """
    unit = lock_unit(row.unit)
    row = unit.tablet_entries.get(pk=row.pk)
    if not row.waits:
        return row
    if choice == Choice.MINE:
        answer = _again(unit, row, seen, by)
        _tell(row, answer)
        if answer.state != State.KEPT:
            row.save()
            return row
    _settle(row, Choice(choice), by=by, at=at)
    _settle_earlier(row, by=by, at=at)
    return row


def _answer(unit: Unit, entry: Entry, *, by: User) -> Answer:
    """What the kind's own function answers, in a savepoint: nothing is left of a refusal."""
    kind = kind_of(entry.kind)
    if kind is None:
        return _refused("This Caststead does not know such an entry: load the tablet’s page anew.")
    if kind.owner_only and not _is_owner(unit, by):
        return _refused("Money and the look are the owner’s: nothing was written.")
    try:
        with transaction.atomic():
            return kind.take(unit, entry, by=by, at=entry.at, key=entry.key)
    except Refused as refused:
        return _refused(" ".join(refused.reasons))
    except (OperationalError, InterfaceError):
        raise  # the database is busy or away: the tablet sends it all once more
    except Exception:  # one entry that trips us never holds up the queue
        logger.exception("An entry of a tablet could not be taken in: %s", entry.key)
        return _refused("Something went wrong with this entry. It is kept here as it was said.")


def _refused(sentence: str) -> Answer:
    return Answer(State.REFUSED, sentence)


def _is_owner(unit: Unit, by: User) -> bool:
    return Membership.objects.filter(unit=unit, user=by, role=Role.OWNER).exists()


def _again(unit: Unit, row: TabletEntry, seen: int | None, by: User) -> Answer:
    kind = kind_of(row.kind)
    if row.state == State.CONFLICT and not (kind and kind.choosable):
        return Answer(State.CONFLICT, row.sentence, row.subject, row.version, theirs=row.theirs)
    return _answer(unit, replace(_entry(row), seen=seen or row.seen), by=by)


def _keep_beside(
    unit: Unit, first: TabletEntry, entry: Entry, by: User, at: datetime
) -> TabletEntry:
    """The same key with other content: the first stands, the second is shown beside it."""
    content = json.dumps(
        [str(entry.device), entry.kind, entry.sitting, entry.facts], sort_keys=True
    )
    beside = replace(entry, key=uuid5(entry.key, content), seq=None)
    if earlier := unit.tablet_entries.filter(key=beside.key).first():
        return earlier
    answer = Answer(
        State.CONFLICT,
        "This entry came before with other words: the first stands.",
        subject=first.subject,
        version=first.version,
        theirs=first.facts,
    )
    return _row(unit, beside, answer, by=by, at=at)


def _settle_earlier(row: TabletEntry, *, by: User, at: datetime) -> None:
    """A later word of the same tablet about the same row takes the place of what waits."""
    if not row.subject or row.state == State.REFUSED:
        return
    waits = row.unit.tablet_entries.unsettled().about(row.device, row.subject)
    for earlier in waits.filter(pk__lt=row.pk):
        _settle(earlier, Choice.LATER, by=by, at=at)


def _settle(row: TabletEntry, choice: TabletEntry.Choice, *, by: User, at: datetime) -> None:
    row.state, row.choice = State.SETTLED, choice
    row.settled_at, row.settled_by = at, by
    row.save()


def _tell(row: TabletEntry, answer: Answer) -> None:
    for name, value in _told(answer).items():
        setattr(row, name, value)


def _told(answer: Answer) -> dict[str, Any]:
    return {
        "state": answer.state,
        "sentence": answer.sentence,
        "subject": answer.subject,
        "version": answer.version,
        "wrote": answer.wrote,
        "theirs": answer.theirs,
    }


def _row(unit: Unit, entry: Entry, answer: Answer, *, by: User, at: datetime) -> TabletEntry:
    said = {name: getattr(entry, name) for name in _SAID}
    tapped_by = _one_of_ours(unit, entry.tapped_by)
    return unit.tablet_entries.create(
        **said, **_told(answer), by=by, tapped_by=tapped_by, received_at=at
    )


def _one_of_ours(unit: Unit, pk: int | None) -> User | None:
    """Whom the tablet names, if they belong to the unit; rights are never taken from this."""
    if pk is None:
        return None
    return User.objects.filter(pk=pk, memberships__unit=unit).first()


_SAID = ("device", "seq", "key", "kind", "sitting", "facts", "seen", "said_at", "at")


def _entry(row: TabletEntry) -> Entry:
    said = {name: getattr(row, name) for name in _SAID}
    return Entry(**said, tapped_by=row.tapped_by_id)


def _says(row: TabletEntry, entry: Entry) -> bool:
    return all(
        getattr(row, name) == getattr(entry, name)
        for name in ("device", "kind", "sitting", "facts")
    )
