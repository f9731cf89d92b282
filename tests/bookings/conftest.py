"""A family with a child of 17 weeks, and its sitting on Thursday at ten."""

import pytest

from tests.bookings.doing import Doing


@pytest.fixture
def doing(unit):
    return Doing(unit)


@pytest.fixture
def family(doing):
    return doing.family()


@pytest.fixture
def sitting(doing, family):
    """Both hands of Wren, tomorrow at ten."""
    return doing.book(family)
