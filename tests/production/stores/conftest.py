"""A shelf with something of each kind, filled by the actions that people use."""

import uuid
from datetime import date, timedelta

import pytest
from django.utils import timezone

from production.stores import actions
from tests import makers

OATMEAL = {
    "kind": "clay",
    "name": "Modelling clay",
    "measure": "g",
    "used_at": "print",
    "used_each": 900,
    "returns_percent": 95,
    "most_uses": 8,
    "keep_days": 180,
    "pack": 10_000,
    "pack_words": "bag",
}
FINE = {
    "kind": "plaster",
    "name": "Casting plaster",
    "measure": "g",
    "used_at": "pour",
    "pack": 25_000,
    "pack_words": "sack",
    "keep_days": 180,
}
OAK = {
    "kind": "moulding",
    "name": "Oak moulding",
    "measure": "mm",
    "used_at": "frame",
    "used_each": 1303,
    "pack": 3000,
    "pack_words": "bar",
}
GLASS = {
    "kind": "glazing",
    "name": "Float glass",
    "measure": "mm2",
    "used_at": "glazed",
    "used_each": 75_000,
    "pack": 750_000,
    "pack_words": "sheet",
}
BOX = {
    "kind": "packaging",
    "name": "Carton",
    "measure": "piece",
    "used_at": "home",
    "used_each": 1,
    "pack": 20,
    "pack_words": "bundle",
}


def facts(by, at=None, key=None):
    return {"by": by, "at": at or timezone.now(), "key": key or uuid.uuid4()}


def material(unit, of, **more):
    return actions.add_material(unit, facts={**of, **more})


def delivery(material, quantity, cost_minor, *, days_ago=60, **more):
    """A lot on the shelf, received so many days ago."""
    at = timezone.now() - timedelta(days=days_ago)
    return actions.receive(
        material,
        quantity=quantity,
        cost_minor=cost_minor,
        received_on=timezone.localdate() - timedelta(days=days_ago),
        **facts(makers.owner_of(material.unit), at),
        **more,
    )


def stock(material):
    return sum(material.lots.values_list("left", flat=True))


def tied_up(material):
    return sum(material.lots.values_list("left_minor", flat=True))


@pytest.fixture
def by(unit):
    return makers.owner_of(unit)


@pytest.fixture
def plaster(unit):
    return material(unit, FINE)


@pytest.fixture
def clay(unit):
    return material(unit, OATMEAL)


def day(text):
    return date.fromisoformat(text)
