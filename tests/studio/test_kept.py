"""What is kept is kept for its facts alone: any other fact, a query or a row that may change is refused."""

from dataclasses import dataclass

import pytest
from django.template import Context, Template
from django.utils import timezone
from django.utils.safestring import mark_safe

from production.queries import slips
from studio import kept
from studio.kept import AskedMore, Kept, question
from studio.models import Family, Unit
from studio.templatetags.kept import NeverKept, parts
from tests import makers


@dataclass(frozen=True)
class Slip:
    words: str
    days: tuple = ()


@pytest.fixture(autouse=True)
def nothing_kept():
    kept.forget()


def render(source, **context):
    return Template("{% load kept %}" + source).render(Context({"csrf_token": "T", **context}))


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


def test_a_part_is_rendered_once_for_its_facts_in_one_zone(monkeypatch):
    source = '{% kept "parts/status.html" kind="done" words=slip.words %}'
    first = render(source, slip=Slip("dry"))
    assert first == Template(
        '{% include "parts/status.html" with kind="done" words="dry" only %}'
    ).render(Context())
    monkeypatch.setattr("studio.templatetags.kept.KeptNode._rendered", lambda *_: ["anew"])
    assert render(source, slip=Slip("dry")) == first
    assert render(source, slip=Slip("damp")) == "anew"
    with timezone.override("Pacific/Auckland"):
        assert render(source, slip=Slip("dry")) == "anew"


def test_each_look_has_its_own_keys_and_token():
    press = '{% kept "production/_to_frame.html" job=job %}'
    job = slips.ToFrame("CY8YEGPH", "Ada", "drying", None)
    looks = [render(press, job=job, csrf_token=token) for token in ("one", "two")]
    for html, token in zip(looks, ("one", "two"), strict=True):
        assert html.count(f'name="csrfmiddlewaretoken" value="{token}"') == 2
    keys = {key for html in looks for key in html.split('name="key" value="')[1:]}
    assert len({key[:36] for key in keys}) == 4


@pytest.mark.django_db
def test_a_row_or_marked_text_is_no_fact_to_keep_a_part_for(unit):
    plain = (unit, mark_safe("<b>dry</b>"))
    for value in (unit, *map(Slip, plain), *((each,) for each in plain), Slip("", plain)):
        with pytest.raises(NeverKept):
            render('{% kept "parts/status.html" words=words %}', words=value)


def test_words_are_escaped_in_a_kept_part():
    html = render('{% kept "parts/status.html" words=words %}', words="<b>&")
    assert "&lt;b&gt;&amp;" in html


def test_parts_end_before_they_fill_the_memory(monkeypatch):
    monkeypatch.setattr("studio.templatetags.kept.MOST_CHARACTERS", 2_000)
    for n in range(50):
        render('{% kept "parts/status.html" words=words %}', words=str(n))
    assert sum(len(cut) for part in parts._parts.values() for cut in part) <= 2_000
