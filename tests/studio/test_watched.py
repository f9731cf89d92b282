"""A watched function runs again exactly when one of its reads would be answered otherwise."""

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from studio import kept, watched
from studio.models import Child, Family
from studio.watched import NotARead
from tests import makers

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def nothing_kept():
    kept.forget()


@pytest.fixture
def names():
    """The names of a unit's families and their children; `names.runs` counts how often it ran."""

    @watched.watched
    def names(unit_pk, least=0):
        names.runs += 1
        families = Family.objects.filter(unit=unit_pk, pk__gt=least).order_by("pk")
        first = families.first()
        return first and first.name, tuple(
            (family.name, tuple(child.first_name for child in family.children.all()))
            for family in families.prefetch_related("children")
        )

    names.runs = 0
    return names


def test_it_runs_again_only_when_a_read_differs(unit, names):
    family = makers.a_family(unit)
    assert names(unit.pk) == names(unit.pk) == ("Okafor", (("Okafor", ("Ada",)),))
    assert names.runs == 1
    Child.objects.filter(family=family).update(first_name="Bo")  # nobody's action
    assert names(unit.pk) == ("Okafor", (("Okafor", ("Bo",)),))
    makers.a_family(makers.a_unit("Elsewhere"))  # not among its rows
    assert names(unit.pk)[0] == "Okafor"
    assert names.runs == 2
    makers.a_family(unit, name="Hughes")
    assert [name for name, _ in names(unit.pk)[1]] == ["Okafor", "Hughes"]
    assert names.runs == 3


def test_each_argument_and_zone_is_a_slot_of_its_own(unit, names):
    names(unit.pk)
    names(unit.pk, least=10**6)
    with timezone.override("Pacific/Auckland"):
        names(unit.pk)
    assert names.runs == 3
    names(unit.pk)
    assert names.runs == 3


def test_a_look_at_what_is_kept_asks_the_same_without_putting_sql_together(unit, names):
    makers.a_family(unit)
    with CaptureQueriesContext(connection) as first:
        names(unit.pk)
    with CaptureQueriesContext(connection) as again:
        names(unit.pk)
    assert [each["sql"] for each in first] == [each["sql"] for each in again]
    assert len(first) == 3


def test_what_is_undone_is_undone_in_what_is_kept(unit, names):
    makers.a_family(unit)
    before = names(unit.pk)
    with transaction.atomic():
        Family.objects.update(name="Hughes")
        assert names(unit.pk)[0] == "Hughes"
        transaction.set_rollback(True)
    assert names(unit.pk) == before


def test_it_only_reads(unit):
    @watched.watched
    def renames(unit_pk):
        Family.objects.filter(unit=unit_pk).update(name="Hughes")

    makers.a_family(unit)
    with pytest.raises(NotARead), transaction.atomic():
        renames(unit.pk)
    assert Family.objects.get().name == "Okafor"
    Family.objects.update(name="Hughes")  # outside, one may write


def test_it_takes_no_rows(unit, names):
    with pytest.raises(TypeError):
        names(unit)


def test_one_watches_within_another(unit, names):
    @watched.watched
    def counted(unit_pk):
        return len(names(unit_pk)[1])

    makers.a_family(unit)
    assert [counted(unit.pk), counted(unit.pk)] == [1, 1]
    names(unit.pk)
    makers.a_family(unit, name="Hughes")
    assert [counted(unit.pk), counted(unit.pk)] == [2, 2]
    kept.forget()
    names(unit.pk)  # kept before the other is worked out: its reads are the other's too
    counted(unit.pk)
    makers.a_family(unit, name="Price")
    assert counted(unit.pk) == 3


def test_one_look_asks_the_same_once_and_the_next_asks_anew(unit, names):
    makers.a_family(unit)
    names(unit.pk)
    with CaptureQueriesContext(connection) as asked, kept.one_look({}):
        assert names(unit.pk) == names(unit.pk)
    assert len(asked) == 3
    Family.objects.update(name="Hughes")
    with kept.one_look({}):
        assert names(unit.pk)[0] == "Hughes"


def test_in_one_look_what_is_worked_out_anew_is_watched_all_the_same(unit, names):
    makers.a_family(unit)

    @kept.question
    def found(unit_pk):
        return Family.objects.filter(unit=unit_pk).values_list("name")

    @watched.watched
    def first(unit_pk):
        return found(unit_pk)[0][0]

    with kept.one_look({}):
        found(unit.pk)  # answered in this look already
        assert first(unit.pk) == "Okafor"
    Family.objects.update(name="Hughes")
    assert first(unit.pk) == "Hughes"


def test_its_memory_ends(unit, names, monkeypatch):
    monkeypatch.setattr(watched, "MOST", 2)
    for least in (1, 2, 3, 3, 2, 1):
        names(unit.pk, least)
    assert names.runs == 4
