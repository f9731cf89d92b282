"""Today, the Bench, a job's page and its family's say the same whether they were kept or are made anew.

Whatever is written, by whichever way: every column of every table behind the backs of the actions,
then random histories of what people do, at random hours. The control: with a memory that does not
compare its facts, the same walks find pages gone stale.
"""

import logging
import re
import uuid
from contextlib import suppress
from datetime import date, datetime, timedelta
from decimal import Decimal
from unittest.mock import patch

import pytest
from django.apps import apps
from django.db import DatabaseError, models, transaction
from django.utils import timezone
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from bookings import actions as bookings
from orders.actions import ending, paying, quoting
from orders.offering import offer_of
from production import actions as production
from studio import actions, kept
from studio.models import Limb
from studio.stages import Refused, Stage
from tests import makers
from tests.addresses import a_studio
from tests.orders.following import follow

pytestmark = pytest.mark.django_db

PAGES = ("/", "/bench/")
ROOMS = ("studio", "bookings", "production", "orders")
EACH_LOOKS_OWN = re.compile(
    r'name="(?:key|csrfmiddlewaretoken)" value="[^"]*"|"x-csrftoken": "[^"]*"'
)
ROWS = 8


def opens(client, studio, *, families=False):
    """Let the browser look at the jobs' pages too, and at the family's page of one."""
    jobs = [studio.at(stage) for stage in (Stage.DRYING, Stage.FRAMING)]
    client.pages = [*PAGES, *(job.get_absolute_url() for job in jobs)]
    if families:
        client.pages.append(follow(jobs[0], client).home)


def shown(client, at=None):
    """What the pages say at a moment, without what is each look's own."""
    client.raise_request_exception = False  # a broken setting breaks both alike
    with patch("django.utils.timezone.now", return_value=at or timezone.now()):
        answers = [client.get(url) for url in client.pages]
    return [(each.status_code, EACH_LOOKS_OWN.sub("", each.content.decode())) for each in answers]


def anew(client, at=None):
    kept.forget()
    return shown(client, at)


def stale(client, at=None):
    """Whether what is kept says something else than what is worked out now."""
    at = at or timezone.now()
    return shown(client, at) != anew(client, at)


OTHERS = (
    (bool, lambda value: not value),
    (datetime, lambda value: value - timedelta(days=1, hours=3)),
    (date, lambda value: value - timedelta(days=5)),
    ((int, float, Decimal), lambda value: value + 1),
    (str, lambda value: f"{value}x"),
)
FIRSTS = (
    (models.DateTimeField, lambda: timezone.now() - timedelta(hours=1)),
    (models.DateField, timezone.localdate),
    ((models.IntegerField, models.FloatField), lambda: 1),
)


def another(field, value):
    """A value that the column might also hold; None where nobody can say."""
    if field.choices:
        return next((each for each, _ in field.flatchoices if each != value), None)
    if value is None:
        return next((first() for kinds, first in FIRSTS if isinstance(field, kinds)), None)
    return next((other(value) for kinds, other in OTHERS if isinstance(value, kinds)), None)


def columns():
    """Every column that holds a plain value, of every table of ours."""
    for room in ROOMS:
        for model in apps.get_app_config(room).get_models():
            for field in model._meta.concrete_fields:
                if not (
                    field.primary_key or field.is_relation or isinstance(field, models.UUIDField)
                ):
                    yield model, field


def overwrite(model, field):
    """Change the column of a few rows as nobody's action does; False where none can be changed."""
    changed = 0
    for row in model._base_manager.order_by("pk")[:ROWS]:
        value = another(field, getattr(row, field.attname))
        try:
            with transaction.atomic():
                if value is not None:
                    changed += model._base_manager.filter(pk=row.pk).update(**{field.name: value})
        except (DatabaseError, ValueError):  # the table's own constraints
            continue
    return bool(changed)


def walk_columns(client):
    """Of each column that could be overwritten: its name, whether pages went stale, whether they changed."""
    at = timezone.now()
    before = anew(client, at)
    for model, field in columns():
        shown(client, at)  # what was rolled back is kept again
        with transaction.atomic():
            if overwrite(model, field):
                after, true = shown(client, at), anew(client, at)
                yield f"{model.__name__}.{field.name}", after != true, true != before
            transaction.set_rollback(True)


def test_whatever_column_is_written_no_page_goes_stale(unit, owner, caplog):
    opens(owner, a_studio(unit), families=True)
    with caplog.at_level(logging.CRITICAL):  # a zone that does not exist, and the like
        walked = list(walk_columns(owner))
    assert [name for name, gone_stale, _ in walked if gone_stale] == []
    assert len(walked) > 150
    # So many are seen on the pages: the walk would notice.
    assert sum(changed for _, _, changed in walked) > 30


class Histories:
    """What people do to a studio, each by a number that chooses among what there is."""

    def __init__(self, unit):
        self.studio = a_studio(unit)
        self.unit, self.by = unit, makers.owner_of(unit)

    def do(self, what, number, at):
        """Do it; nothing where it is refused or there is nothing to do it to."""
        with suppress(Refused):
            getattr(self, what)(number, {"by": self.by, "at": at, "key": uuid.uuid4()})

    def cast(self, number, **which):
        casts = self.unit.casts.filter(**which).order_by("pk")
        return casts[number % len(casts)] if casts else None

    def job(self, number):
        jobs = self.unit.jobs.in_hand().order_by("pk")
        return jobs[number % len(jobs)]

    def weigh(self, number, who):
        if cast := self.cast(number, demoulded_at__isnull=False, spoiled_at=None):
            production.weigh(cast, mass_g=300 + number, heavier_why="It got wet.", **who)

    def demould(self, number, who):
        if cast := self.cast(number, demoulded_at=None):
            production.demould(cast, **who)

    def release_dry(self, number, who):
        if cast := self.cast(number, demoulded_at__isnull=False):
            production.release_dry(cast, why="It rings.", **who)

    def spoil_piece(self, number, who):
        if cast := self.cast(number, spoiled_at=None):
            production.spoil_piece(
                cast, how="break", why="It fell.", impression_whole=bool(number % 2), **who
            )

    def pour(self, number, who):
        production.pour(
            self.unit,
            pieces=list(self.job(number).pieces.on_the_job()),
            plaster_g=500,
            water_g=350,
            consistency=70,
            **who,
        )

    def start_framing(self, number, who):
        production.start_framing(self.job(number), seen=Stage.DRYING, **who)

    def tick_frame(self, number, who):
        step = production.FRAME_STEPS[number % 5]
        production.tick_frame(self.job(number), step=step, done=number % 3 > 0, **who)

    def promise(self, number, who):
        on = timezone.localdate(who["at"]) + timedelta(days=number % 20 - 9)
        actions.promise(self.job(number), promised_on=on, why="The week was damp.", **who)

    def take_payment(self, number, who):
        paying.take_payment(
            self.job(number).order,
            amount_minor=100 + number,
            method="cash",
            received_on=timezone.localdate(who["at"]),
            **who,
        )

    def accept_quote(self, number, who):
        order = self.job(number).order
        seen = offer_of(order, timezone.localdate(who["at"])).seen
        quoting.accept_quote(order, how="link", seen=seen, **who | {"by": None})

    def decline_quote(self, number, who):
        order, key = self.job(number).order, who["key"]
        seen = offer_of(order, timezone.localdate(who["at"])).seen
        quoting.decline_quote(order, seen=seen, words=f"No {number}.", at=who["at"], key=key)

    def note_answer(self, number, who):
        quoting.note_answer(self.job(number).order, at=who["at"])

    def call_off(self, number, who):
        job = self.job(number)
        ending.call_off(job, seen=Stage(job.stage), keep_minor=0, why="They moved away.", **who)

    def book(self, number, who):
        family = makers.a_family(self.unit, name=f"Family {number}", now=who["at"])
        bookings.book_sitting(
            family,
            wanted=[(family.children.get(), Limb.LEFT_HAND)],
            starts_at=makers.next_morning(self.unit, who["at"]),
            minutes=45,
            **who,
        )

    def withdraw_consent(self, number, who):
        family = self.job(number).family
        if word := family.consents.standing().first():
            bookings.withdraw_consent(word, **who)

    def rename(self, number, who):
        child = self.job(number).pieces.first().child
        actions.edit_child(child, facts={"first_name": f"Bo {number}"}, seen_version=child.version)

    def edit_unit(self, number, who):
        facts = {"rack_places": 4 + number % 20, "clay_rest_hours": 10 + number % 30}
        self.unit.refresh_from_db()
        actions.edit_unit(self.unit, facts=facts, seen_version=self.unit.version)


DEEDS = [
    name
    for name in vars(Histories)
    if not name.startswith("_") and name not in ("do", "cast", "job")
]


def test_after_any_history_kept_pages_say_what_new_ones_say(unit, owner, helper):
    history = Histories(unit)
    opens(owner, history.studio, families=True)
    opens(helper, history.studio)

    @example([(each, 7, 50) for each in DEEDS])
    @settings(max_examples=5, deadline=None, suppress_health_check=list(HealthCheck))
    @given(
        st.lists(
            st.tuples(st.sampled_from(DEEDS), st.integers(0, 99), st.integers(0, 900)),
            min_size=3,
            max_size=6,
        )
    )
    def live(deeds):
        at = timezone.now()
        with transaction.atomic():
            for what, number, minutes in deeds:
                at += timedelta(minutes=minutes)  # nights go by
                history.do(what, number, at)
                for client in (owner, helper):
                    assert not stale(client, at), f"{what} {number} at {at}"
            transaction.set_rollback(True)

    live()


def test_as_the_hours_go_by_kept_pages_say_what_new_ones_say(unit, owner):
    opens(owner, a_studio(unit), families=True)
    at, seen = timezone.now(), set()
    for hours in range(0, 50, 4):  # two days and their midnights
        moment = at + timedelta(hours=hours)
        assert not stale(owner, moment), moment
        seen.add(tuple(shown(owner, moment)))
    assert len(seen) > 4


def test_the_control_a_memory_that_does_not_compare_its_facts_goes_stale(unit, owner, monkeypatch):
    def forgetful(self, slot, facts):
        if slot not in self._slots:
            self._slots[slot] = (facts, self._make(facts))
        return self._slots[slot][1]

    monkeypatch.setattr(kept.Kept, "of", forgetful)
    history = Histories(unit)
    opens(owner, history.studio)
    shown(owner)
    history.rename(3, {})  # of the job on the rack
    assert stale(owner)
    history.edit_unit(4, {})
    assert stale(owner)
