"""The same batch at the same moment, over and over: on a real database, one write each."""

import uuid
from datetime import timedelta

import pytest
from django.utils import timezone

from bookings.sittings.models import ClayPrint
from studio.jobs.models import JobEvent
from studio.tablet.actions import keep_entries, settle_entry
from studio.tablet.entries import Entry
from studio.tablet.models import TabletEntry
from tests import makers
from tests.crowd import at_once

pytestmark = pytest.mark.django_db(transaction=True)

AT_ONCE = 4


@pytest.fixture
def held(transactional_db):
    unit = makers.a_unit()
    return makers.a_job(unit, pieces=2, by=makers.owner_of(unit)).sittings.get()


def taps(held, device, outcome="taken"):
    now = timezone.now()
    return [
        Entry(
            device=device,
            seq=seq,
            key=uuid.uuid4(),
            kind="impression",
            sitting=held.pk,
            facts={"impression": each.pk, "outcome": outcome, "tries": 0, "marks": {}},
            seen=1,
            said_at=now,
            at=now - timedelta(minutes=seq),
        )
        for seq, each in enumerate(held.prints.all(), 1)
    ]


def sender(held, entries):
    by = makers.owner_of(held.unit)
    return lambda: keep_entries(held.unit, entries=entries, by=by, at=timezone.now())


def test_one_batch_sent_by_four_threads_is_written_once(held):
    send = sender(held, taps(held, uuid.uuid4()))
    results = at_once(*[send] * AT_ONCE)
    assert len({tuple(row.pk for row in rows) for rows in results}) == 1
    assert TabletEntry.objects.count() == 2
    assert JobEvent.objects.filter(what="log_print").count() == 2
    assert set(ClayPrint.objects.values_list("outcome", "version")) == {("taken", 2)}


def test_two_tablets_that_differ_end_with_one_word_and_one_conflict(held):
    at_once(
        sender(held, taps(held, uuid.uuid4())), sender(held, taps(held, uuid.uuid4(), "not_today"))
    )
    states = sorted(TabletEntry.objects.values_list("state", flat=True))
    assert states == ["conflict", "conflict", "kept", "kept"]
    assert set(ClayPrint.objects.values_list("version", flat=True)) == {2}


def test_two_who_choose_at_once_choose_once(held):
    sender(held, taps(held, uuid.uuid4()))()
    rows = sender(held, taps(held, uuid.uuid4(), "not_today"))()
    by = makers.owner_of(held.unit)

    def choose(choice):
        return lambda: settle_entry(rows[0], choice=choice, seen=2, by=by, at=timezone.now())

    results = at_once(*[choose(choice) for choice in ("mine", "theirs")] * 2)
    assert len({(row.state, row.choice) for row in results}) == 1
    assert JobEvent.objects.filter(what="log_print").count() in (2, 3)
