"""What `manage.py welcome` prints where the demo is not loaded."""

import io

from django.core.management import call_command

from demo_data.loading import PASSWORD
from tests import makers


def welcome():
    out = io.StringIO()
    call_command("welcome", port=8123, stdout=out)
    return out.getvalue()


def test_of_an_empty_database_it_says_how_it_begins(db):
    said = welcome()
    assert "the first page asks for your name" in said
    assert PASSWORD not in said


def test_of_a_studio_of_ones_own_it_says_the_address_alone(unit):
    makers.a_person(unit)
    said = welcome()
    assert "http://127.0.0.1:8123/\n" in said
    assert "the first page asks" not in said
    assert PASSWORD not in said
