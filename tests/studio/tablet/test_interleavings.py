"""Two tablets, one sitting, a bad link: whatever order things arrive in, each is there exactly once."""

import itertools
from dataclasses import dataclass, field

import pytest
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bookings.sittings.models import ClayPrint
from studio.jobs.models import JobEvent
from studio.tablet.models import TabletEntry
from tests import makers
from tests.studio.tablet.sending import Tablet

pytestmark = pytest.mark.django_db

OUTCOMES = ("planned", "taken", "repeat", "not_today")

who, limb = st.integers(0, 1), st.integers(0, 1)

taps = st.tuples(st.just("tap"), who, limb, st.sampled_from(OUTCOMES), st.integers(0, 2))

# What the link does to a request and to its answer.
fates = st.sampled_from(["arrives", "is lost", "arrives, its answer is lost", "arrives twice"])

sends = st.tuples(st.just("send"), who, fates, st.sampled_from(["in order", "backwards", "one"]))

choices = st.tuples(st.just("choose"), who, st.sampled_from(["mine", "theirs"]))

walks = st.lists(st.one_of(taps, sends, taps, choices), max_size=25)


@dataclass
class Limb:
    """One limb by the rule, told again here: which words were written, and by whom."""

    written: list = field(default_factory=lambda: [(None, ("planned", 0))])
    heard: dict = field(default_factory=dict)  # device -> the highest number it was heard with

    @property
    def version(self):
        return len(self.written)

    @property
    def says(self):
        return self.written[-1][1]

    def hear(self, device, seq, words, seen):
        """kept or conflict."""
        if seq < self.heard.get(device, 0):
            return "kept"
        self.heard[device] = seq
        return self.write(device, words, seen)

    def write(self, device, words, seen):
        if words == self.says:
            return "kept"
        if any(author != device for author, _ in self.written[seen:]):
            return "conflict"
        self.written.append((device, words))
        return "kept"


@dataclass
class Device:
    tablet: Tablet
    queue: list = field(default_factory=list)
    told: dict = field(default_factory=dict)  # limb -> the newest version it was told
    conflicts: dict = field(default_factory=dict)  # limb -> (answer, entry)


class Walk:
    """Plays a walk against the site, and by the rule beside it."""

    def __init__(self):
        unit = makers.a_unit()
        person = makers.owner_of(unit)
        self.sitting = makers.a_job(unit, pieces=2, by=person).sittings.get()
        self.prints = list(self.sitting.prints.all())
        self.limbs = {each.pk: Limb() for each in self.prints}
        self.unit = unit
        self.devices = [Device(Tablet(self._client(person))) for _ in range(2)]
        self.answers = {}  # key -> the state that the rule gave
        self.said = []

    @staticmethod
    def _client(person):
        client = Client()
        client.force_login(person)
        return client

    def tap(self, who, limb, outcome, tries):
        device, clay_print = self.devices[who], self.prints[limb]
        seen = device.told.get(clay_print.pk, 1)
        entry = device.tablet.tap(clay_print, outcome, tries=tries, seen=seen)
        device.queue.append(entry)
        self.said.append(entry)

    def send(self, who, fate, how):
        device = self.devices[who]
        batch = device.queue[:1] if how == "one" else list(device.queue)
        if how == "backwards":
            batch.reverse()
        if not batch or fate == "is lost":
            return
        answers = device.tablet.send(*batch)
        if fate == "arrives twice":
            assert device.tablet.send(*batch) == answers
        for entry, answer in zip(batch, answers, strict=True):
            self.arrived(device, entry, answer)
        if fate != "arrives, its answer is lost":
            self.acknowledged(device, batch, answers)

    def arrived(self, device, entry, answer):
        pk = entry["facts"]["impression"]
        if entry["key"] not in self.answers:
            self.answers[entry["key"]] = self.limbs[pk].hear(
                device.tablet.device, entry["seq"], words_of(entry), entry["seen"]
            )
            assert answer["version"] == self.limbs[pk].version
        told = {self.answers[entry["key"]]}
        if told == {"conflict"}:  # settled by something that came since, be it in the same batch
            told.add("settled")
        assert answer["state"] in told

    def acknowledged(self, device, batch, answers):
        for entry, answer in zip(batch, answers, strict=True):
            device.queue.remove(entry)
            pk = entry["facts"]["impression"]
            device.told[pk] = max(device.told.get(pk, 1), answer["version"])
            device.conflicts.pop(pk, None)
            if answer["state"] == "conflict":
                device.conflicts[pk] = (answer, entry)

    def choose(self, who, choice):
        device = self.devices[who]
        if not device.conflicts:
            return
        pk, (answer, entry) = device.conflicts.popitem()
        waits = TabletEntry.objects.get(key=entry["key"]).waits
        settled = device.tablet.choose(answer, choice).json()
        if not waits:  # a later tap had taken its place
            assert settled["state"] == "settled"
            return
        expected = "kept"
        if choice == "mine":
            expected = self.limbs[pk].write(
                device.tablet.device, words_of(entry), answer["version"]
            )
            device.told[pk] = max(device.told.get(pk, 1), settled["version"])
        assert settled["state"] == {"kept": "settled"}.get(expected, expected)
        if expected == "conflict":
            device.conflicts[pk] = (settled, entry)

    def end(self):
        for who in range(2):
            self.send(who, "arrives", "in order")


def words_of(entry):
    return entry["facts"]["outcome"], entry["facts"]["tries"]


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(walks)
def test_each_word_arrives_once_and_the_limbs_are_as_the_rule_says(db, walk):
    played = Walk()
    for name, *how in walk:
        getattr(played, name)(*how)
    played.end()
    rows = TabletEntry.objects.filter(unit=played.unit)
    assert sorted(str(row.key) for row in rows) == sorted(entry["key"] for entry in played.said)
    for pk, rule in played.limbs.items():
        stands = ClayPrint.objects.get(pk=pk)
        assert (stands.outcome, stands.tries) == rule.says
        assert stands.version == rule.version
        wrote = rows.filter(subject=f"print {pk}", wrote=True)
        assert sorted(wrote.values_list("version", flat=True)) == list(range(2, rule.version + 1))
    events = JobEvent.objects.filter(job=played.sitting.job, what="log_print")
    assert events.count() == sum(rule.version - 1 for rule in played.limbs.values())
    assert not any(device.queue for device in played.devices)


def test_the_rule_itself_knows_a_conflict():
    """The rule beside the site is no echo: the four cases, by hand."""
    limb = Limb()
    assert limb.hear("a", 1, ("taken", 0), 1) == "kept"
    assert limb.hear("a", 2, ("repeat", 1), 1) == "kept"  # one's own words are known
    assert limb.hear("b", 1, ("not_today", 0), 1) == "conflict"
    assert limb.hear("b", 2, ("not_today", 0), 3) == "kept"  # who was told may
    assert limb.hear("a", 1, ("planned", 0), 4) == "kept"  # late: no effect
    assert (limb.says, limb.version) == (("not_today", 0), 4)


def test_a_walk_with_everything_in_it(db):
    """One that is known to hold conflicts, losses and repeats: the test above is not empty."""
    played = Walk()
    for number, (fate, how) in enumerate(
        itertools.product(
            ["arrives", "arrives, its answer is lost", "is lost", "arrives twice"],
            ["in order", "backwards", "one"],
        )
    ):
        for who in (0, 1):
            played.tap(who, number % 2, OUTCOMES[(number + who) % 4], number % 3)
            played.send(who, fate, how)
    played.end()
    assert set(played.answers.values()) == {"kept", "conflict"}
