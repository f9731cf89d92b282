"""A priced job without a sitting, and presses of its buttons."""

import uuid
from datetime import date
from decimal import Decimal
from types import SimpleNamespace

import pytest
from django.utils import timezone

from orders.prices.models import VatRate
from studio.jobs.actions import open_job
from studio.limbs import Limb
from tests import makers


@pytest.fixture
def at():
    return timezone.now()


@pytest.fixture
def by(owner):
    return owner.user


@pytest.fixture
def press(by, at):
    """Fresh `by`, `at` and `key` for one action."""
    return lambda: {"by": by, "at": at, "key": uuid.uuid4()}


@pytest.fixture
def job(unit, by, at):
    """Three pieces of one child on the makers' prices: a pair and a single, £324.00."""
    makers.prices(unit)
    family = makers.a_family(unit)
    child = family.children.get()
    return open_job(
        family,
        wanted=[(child, limb) for limb in list(Limb)[:3]],
        promised_on=None,
        by=by,
        at=at,
        key=uuid.uuid4(),
    )


@pytest.fixture
def order(job):
    return job.order


@pytest.fixture
def vat(unit):
    """Registers the unit from 2020, at 20 % since 2011."""

    def register(percent="20", on=date(2020, 1, 1)):
        unit.vat_number, unit.vat_registered_on = "GB 123 4567 89", on
        unit.save()
        VatRate.objects.create(unit=unit, valid_from=date(2011, 1, 4), percent=Decimal(percent))

    return register


@pytest.fixture
def look(order):
    """The order's chargeable backing and finish."""
    prices = {price.label: price for price in order.price_list.prices.all()}
    return SimpleNamespace(backing=prices["Deep blue felt"], finish=prices["Limed oak"], all=prices)
