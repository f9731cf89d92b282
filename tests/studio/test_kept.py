"""What is kept is kept for its facts alone: any other fact, and a query is refused."""

from dataclasses import dataclass

import pytest

from studio import kept
from studio.kept import AskedMore, Kept, question
from studio.models import Family, Unit
from tests import makers


@dataclass(frozen=True)
class Slip:
    words: str
    days: tuple = ()


@pytest.fixture(autouse=True)
def nothing_kept():
    kept.forget()


def test_the_same_facts_are_worked_out_once_and_others_anew():
    made = []
    memory = Kept(lambda facts: made.append(facts) or len(made))
    assert [memory.of("a", (1,)), memory.of("a", (1,)), memory.of("a", (2,))] == [1, 1, 2]
    assert [memory.of("b", (2,)), memory.of("a", (1,))] == [
        3,
        4,
    ]  # a slot of its own; the last facts


def test_a_memory_ends():
    made = []
    memory = Kept(made.append, most=2)
    for slot in (1, 2, 3, 3, 2, 1):
        memory.of(slot, slot)
    assert made == [1, 2, 3, 1]


@pytest.mark.django_db
def test_what_is_kept_may_not_ask_for_more_than_its_facts(unit):
    memory = Kept(lambda pk: Unit.objects.get(pk=pk))
    for _ in range(2):
        with pytest.raises(AskedMore):
            memory.of(1, unit.pk)
    assert Unit.objects.get(pk=unit.pk)  # outside, the database answers


@pytest.mark.django_db
def test_a_question_reads_what_the_query_set_reads(unit, django_assert_num_queries):
    makers.a_family(unit)

    @question
    def families(unit_pk):
        return Family.objects.filter(unit=unit_pk).values_list(*kept.columns(Family))

    with django_assert_num_queries(1):
        (row,) = families(unit.pk)
    read, stored = kept.instance(Family, row), Family.objects.get()
    assert vars(read) | {"_state": None} == vars(stored) | {"_state": None}
    assert kept.instance(Family, [None] * len(row)) is None
