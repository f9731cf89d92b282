"""The template filters, through the template engine."""

from datetime import UTC, date, datetime

import pytest
from django.template import Context, Engine

from studio.references import display


@pytest.fixture
def say():
    engine = Engine(libraries={"say": "studio.templatetags.say"})

    def render(expression, **values):
        return engine.from_string("{% load say %}{{ " + expression + " }}").render(Context(values))

    return render


def test_money_and_sizes(say):
    assert say("x|money:currency", x=8500, currency="GBP") == "£85.00"
    assert say("x|money:currency", x=0, currency="GBP") == "£0.00"
    assert say("x|cm", x=73.0) == "7.3 cm"
    assert say("x|kg", x=1831) == "1.83 kg"
    assert say("x|spoken", x="CY8YEGPH") == display("CY8YEGPH") == "CY8Y-EGPH"


def test_days_and_ages(say):
    on, today = date(2026, 12, 3), date(2027, 1, 5)
    assert say("x|day", x=on) == "Thu 3 Dec"
    assert say("x|day:today", x=on, today=today) == "Thu 3 Dec 2026"
    assert say("x|age:on", x=date(2026, 8, 20), on=on) == "15 weeks"


def test_a_time_is_said_as_its_local_day(say, settings):
    settings.TIME_ZONE = "Europe/London"
    late = datetime(2026, 6, 30, 23, 30, tzinfo=UTC)
    assert say("x|day", x=late) == "Wed 1 Jul"
    assert say("x|age:on", x=date(2026, 6, 24), on=late) == "1 week"
    assert say("x|day:today", x=late, today=datetime(2026, 1, 1, tzinfo=UTC)) == "Wed 1 Jul"


@pytest.mark.parametrize(
    "expression", ["x|money:'GBP'", "x|cm", "x|kg", "x|day", "x|age:x", "x|spoken"]
)
def test_a_missing_value_says_nothing(say, expression):
    assert say(expression, x=None) == ""


def test_a_misspelt_name_fails_loudly(say):
    with pytest.raises((TypeError, ValueError, ArithmeticError, AttributeError)):
        say("y|cm", x=73)
