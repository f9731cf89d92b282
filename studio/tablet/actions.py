"""Storing the entries of a tablet: each once, each in a transaction of its own."""

import json
import logging
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from typing import Any
from uuid import uuid5

from django.db import InterfaceError, OperationalError, transaction

from studio.accounts.actions import lock_unit
from studio.accounts.models import Membership, Unit, User
from studio.roles import Role
from studio.stages import Refused
from studio.tablet.entries import Answer, Entry, kind_of
from studio.tablet.models import TabletEntry

logger = logging.getLogger(__name__)

State, Choice = TabletEntry.State, TabletEntry.Choice


def keep_entries(
    unit: Unit, *, entries: Iterable[Entry], by: User, at: datetime
) -> list[TabletEntry]:
    """Process and store entries in their order; a refused one does not stop the others.

    A known key returns the earlier row; with different content it is stored beside it as a conflict.
    """
    return [keep_entry(unit, entry=entry, by=by, at=at) for entry in entries]


@transaction.atomic
def keep_entry(unit: Unit, *, entry: Entry, by: User, at: datetime) -> TabletEntry:
    """Process and store one entry that arrived at `at`. A refusal is stored as its answer, never raised."""
    unit = lock_unit(unit)
    if earlier := unit.tablet_entries.filter(key=entry.key).first():
        return (
            earlier
            if _same_content(earlier, entry)
            else _record_key_conflict(unit, earlier, entry, by, at)
        )
    if unit.tablet_entries.filter(device=entry.device, seq=entry.seq).exists():
        entry = replace(entry, seq=None)
    row = _create_row(unit, entry, _answer(unit, entry, by=by), by=by, at=at)
    _settle_earlier(row, by=by, at=at)
    return row


@transaction.atomic
def record_other_entry(unit: Unit, *, entry: Entry, by: User, at: datetime) -> TabletEntry:
    """Store an entry that was processed elsewhere, such as a photograph; the same key twice is one row."""
    unit = lock_unit(unit)
    if earlier := unit.tablet_entries.filter(key=entry.key).first():
        return earlier
    return _create_row(unit, entry, Answer(), by=by, at=at)


@transaction.atomic
def settle_entry(
    row: TabletEntry, *, choice: str, seen: int | None = None, by: User, at: datetime
) -> TabletEntry:
    """Resolve an entry that was refused or is in conflict.

    “theirs” keeps the current row; “mine” processes the entry as by somebody who has seen version `seen`: if that is
    refused or meets another conflict, the entry goes on waiting. A settled entry is returned unchanged.
    """
    unit = lock_unit(row.unit)
    row = unit.tablet_entries.get(pk=row.pk)
    if not row.waits:
        return row
    if choice == Choice.MINE:
        answer = _retry(unit, row, seen, by)
        _apply_answer(row, answer)
        if answer.state != State.KEPT:
            row.save()
            return row
    _settle(row, Choice(choice), by=by, at=at)
    _settle_earlier(row, by=by, at=at)
    return row


def _answer(unit: Unit, entry: Entry, *, by: User) -> Answer:
    """Process the entry by the function of its kind, in a savepoint: a refusal leaves no trace."""
    kind = kind_of(entry.kind)
    if kind is None:
        return _refused("This Caststead does not know such an entry: load the tablet’s page anew.")
    if kind.owner_only and not _is_owner(unit, by):
        return _refused("Money and the look are the owner’s: nothing was written.")
    try:
        with transaction.atomic():
            return kind.handle(unit, entry, by=by, at=entry.at, key=entry.key)
    except Refused as refused:
        return _refused(" ".join(refused.reasons))
    except (OperationalError, InterfaceError):
        raise  # the database is busy or unreachable: the tablet sends everything again
    except Exception:  # one faulty entry must not block the queue
        logger.exception("An entry of a tablet could not be taken in: %s", entry.key)
        return _refused("Something went wrong with this entry. It is kept here as it was said.")


def _refused(sentence: str) -> Answer:
    return Answer(State.REFUSED, sentence)


def _is_owner(unit: Unit, by: User) -> bool:
    return Membership.objects.filter(unit=unit, user=by, role=Role.OWNER).exists()


def _retry(unit: Unit, row: TabletEntry, seen: int | None, by: User) -> Answer:
    kind = kind_of(row.kind)
    if row.state == State.CONFLICT and not (kind and kind.choosable):
        return Answer(State.CONFLICT, row.sentence, row.subject, row.version, theirs=row.theirs)
    return _answer(unit, replace(_entry(row), seen=seen or row.seen), by=by)


def _record_key_conflict(
    unit: Unit, first: TabletEntry, entry: Entry, by: User, at: datetime
) -> TabletEntry:
    """Store an entry whose key is known with other content, as a conflict: the first entry counts."""
    content = json.dumps(
        [str(entry.device), entry.kind, entry.sitting, entry.facts], sort_keys=True
    )
    beside = replace(entry, key=uuid5(entry.key, content), seq=None)
    if earlier := unit.tablet_entries.filter(key=beside.key).first():
        return earlier
    answer = Answer(
        State.CONFLICT,
        "This entry was sent before with other content: the first one counts.",
        subject=first.subject,
        version=first.version,
        theirs=first.facts,
    )
    return _create_row(unit, beside, answer, by=by, at=at)


def _settle_earlier(row: TabletEntry, *, by: User, at: datetime) -> None:
    """Settle earlier entries of the same tablet about the same row: the newest one replaces them."""
    if not row.subject or row.state == State.REFUSED:
        return
    waits = row.unit.tablet_entries.unsettled().about(row.device, row.subject)
    for earlier in waits.filter(pk__lt=row.pk):
        _settle(earlier, Choice.LATER, by=by, at=at)


def _settle(row: TabletEntry, choice: TabletEntry.Choice, *, by: User, at: datetime) -> None:
    row.state, row.choice = State.SETTLED, choice
    row.settled_at, row.settled_by = at, by
    row.save()


def _apply_answer(row: TabletEntry, answer: Answer) -> None:
    for name, value in _answer_fields(answer).items():
        setattr(row, name, value)


def _answer_fields(answer: Answer) -> dict[str, Any]:
    return {
        "state": answer.state,
        "sentence": answer.sentence,
        "subject": answer.subject,
        "version": answer.version,
        "wrote": answer.wrote,
        "theirs": answer.theirs,
    }


def _create_row(unit: Unit, entry: Entry, answer: Answer, *, by: User, at: datetime) -> TabletEntry:
    said = {name: getattr(entry, name) for name in _ENTRY_FIELDS}
    tapped_by = _member(unit, entry.tapped_by)
    return unit.tablet_entries.create(
        **said, **_answer_fields(answer), by=by, tapped_by=tapped_by, received_at=at
    )


def _member(unit: Unit, pk: int | None) -> User | None:
    """The user whom the tablet names, if a member of the unit; never used for permissions."""
    if pk is None:
        return None
    return User.objects.filter(pk=pk, memberships__unit=unit).first()


_ENTRY_FIELDS = ("device", "seq", "key", "kind", "sitting", "facts", "seen", "said_at", "at")


def _entry(row: TabletEntry) -> Entry:
    said = {name: getattr(row, name) for name in _ENTRY_FIELDS}
    return Entry(**said, tapped_by=row.tapped_by_id)


def _same_content(row: TabletEntry, entry: Entry) -> bool:
    return all(
        getattr(row, name) == getattr(entry, name)
        for name in ("device", "kind", "sitting", "facts")
    )
