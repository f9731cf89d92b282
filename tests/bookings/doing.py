"""The actions of bookings with everything filled in that a test does not care about."""

import uuid
from datetime import UTC, date, datetime, timedelta

import pytest

from bookings.consent import actions as consent_actions
from bookings.diary import actions
from bookings.sittings import actions as sittings_actions
from bookings.sittings.models import ClayPrint
from studio.limbs import Limb
from studio.stages import ActionRefused
from tests import makers

# A Wednesday in winter: the clocks of London show UTC.
AT = datetime(2026, 11, 25, 9, tzinfo=UTC)
HANDS = (Limb.LEFT_HAND, Limb.RIGHT_HAND)


class Doing:
    """The actions with everything filled in that a test does not care about."""

    def __init__(self, unit):
        self.unit = unit
        self.by = makers.owner_of(unit)

    def who(self, at=AT, key=None):
        return {"by": self.by, "at": at, "key": key or uuid.uuid4()}

    def family(self, *, name="Okafor", children=("Wren",), born_on=date(2026, 7, 29)):
        return makers.a_family(self.unit, name=name, children=children, born_on=born_on)

    def book(self, family, *, limbs=HANDS, days=1, hours=0, at=AT, key=None, **facts):
        wanted = [(child, limb) for child in family.children.oldest_first() for limb in limbs]
        facts = {
            "wanted": wanted,
            "starts_at": AT + timedelta(days=days, hours=1 + hours),
            "minutes": 45,
            **facts,
        }
        return actions.book_sitting(family, **facts, **self.who(at, key))

    def move(self, sitting, *, at=AT, key=None, **facts):
        facts = {
            "starts_at": sitting.starts_at + timedelta(days=2),
            "minutes": 45,
            "place": "home",
            "place_words": "",
            "seen_version": sitting.version,
            **facts,
        }
        return actions.move_sitting(sitting, **facts, **self.who(at, key))

    def cancel(self, sitting, *, why="Wren has a cold.", key=None, **facts):
        return actions.cancel_sitting(sitting, why=why, **facts, **self.who(key=key))

    def book_again(self, job, *, days=4, key=None, **facts):
        facts = {"starts_at": AT + timedelta(days=days), "minutes": 45, **facts}
        return actions.book_again(job, **facts, **self.who(key=key))

    def log(self, clay_print, outcome, *, key=None, **facts):
        return sittings_actions.log_print(clay_print, outcome=outcome, **facts, **self.who(key=key))

    def finish(self, sitting, *, put_off="split", key=None, asked=True):
        """After the family's yes to the casts, unless nobody `asked`."""
        if asked:
            makers.let_make(sitting.job.family, by=self.by, at=AT)
        return sittings_actions.finish_sitting(sitting, put_off=put_off, **self.who(key=key))

    def consent(self, family, purpose="keep", *, key=None, at=AT):
        return consent_actions.give_consent(
            family, purpose=purpose, given_by="Sam Okafor", **self.who(at, key)
        )


def state_of(unit):
    """Everything a refused action must leave as it was."""
    return (
        list(unit.sittings.order_by("pk").values()),
        list(ClayPrint.objects.order_by("pk").values()),
        list(unit.jobs.order_by("pk").values()),
        list(unit.photos.order_by("pk").values()),
        list(unit.jobs.order_by("events__pk").values_list("events__what", flat=True)),
    )


def refused(unit, call, *words, error=ActionRefused):
    before = state_of(unit)
    with pytest.raises(error) as no:
        call()
    assert state_of(unit) == before
    for word in words:
        assert word in str(no.value)
    return no.value
