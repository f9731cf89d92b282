"""Each shared part, rendered with each of its examples and read by an HTML parser."""

from pathlib import Path

import pytest
from django.conf import settings
from django.template.loader import render_to_string
from django.test import RequestFactory

from tests.parts.examples import AROUND, DAY, EXAMPLES, HOSTILE, KEY, blank, job, refused, steps
from tests.parts.markup import faults, page_of

PARTS = Path(settings.BASE_DIR) / "templates" / "parts"
CASES = [(part, name) for part, examples in EXAMPLES.items() for name in examples]


def show(part, given):
    request = RequestFactory().get("/families/?q=wren&page=5")
    return render_to_string(f"parts/{part}", given, request=request)


@pytest.mark.parametrize(("part", "name"), CASES)
def test_a_part_is_sound_html(part, name):
    shown = AROUND.get(part, "{}").format(show(part, EXAMPLES[part][name]))
    assert faults(page_of(shown)) == []


@pytest.mark.parametrize("part", sorted(path.name for path in PARTS.glob("*.html")))
def test_a_part_has_examples_and_its_contract_stays_out_of_the_page(part):
    assert EXAMPLES.get(part), f"{part} has no example in tests/parts/examples.py"
    for given in EXAMPLES[part].values():
        assert "comment" not in show(part, given)
        assert "{#" not in show(part, given)


@pytest.mark.parametrize(
    ("part", "name"), [case for case in CASES if case[1] in ("hostile", "long words")]
)
def test_what_a_person_typed_is_never_markup(part, name):
    assert "<script" not in show(part, EXAMPLES[part][name])


@pytest.mark.parametrize(
    ("broken", "fault"),
    [
        ("<p><div></p>", "parse error"),
        ('<p id="a">1</p><p id="a">2</p>', "there 2 times"),
        ('<p aria-describedby="gone">1</p>', "'gone', which is not there"),
        ('<input name="a">', "has no label"),
        ('<img src="a.png">', "has no words"),
        ("<button></button>", "says nothing"),
        ('<p style="color: red">1</p>', "dropped by the content policy"),
        ('<p onclick="a()">1</p>', "dropped by the content policy"),
        ('<p hx-on:click="a()">1</p>', "dropped by the content policy"),
        ("<script>a()</script>", "dropped by the content policy"),
        ("<style>p {}</style>", "dropped by the content policy"),
    ],
)
def test_the_reader_sees_what_is_wrong(broken, fault):
    assert any(fault in found for found in faults(page_of(broken)))


def test_a_state_is_told_in_a_shape_and_in_words():
    shapes = {
        kind: show("status.html", {"kind": kind, "words": "dry"}).split("<path", 1)[1]
        for kind in ("done", "late", "damp", "info", "plain")
    }
    assert len(set(shapes.values())) == 5
    assert all("dry" in shape for shape in shapes.values())


def test_a_stage_says_aloud_whether_it_is_done():
    shown = " ".join(show("stage_strip.html", {"steps": steps(1)}).split())
    assert shown.count(", done") == 1
    assert shown.count(", now") == 1
    assert shown.count(", still to come") == 5
    assert shown.count('aria-current="step"') == 1
    assert "Thu 3 Dec" in shown


def test_a_job_says_its_day_and_who_it_is_for():
    shown = show("job_row.html", job(due=DAY))
    assert all(
        words in shown for words in ("CY8Y-EGPH", "Penhaligon", "Wren and Tobias", "Thu 3 Dec")
    )


def test_a_wrong_field_is_tied_to_its_sentence_and_keeps_what_was_typed():
    shown = show("field.html", {"field": refused()["mass_g"], "unit": "g"})
    assert 'aria-invalid="true"' in shown
    assert 'aria-describedby="id_mass_g_error"' in shown
    assert 'id="id_mass_g_error"' in shown
    assert 'value="heavy"' in shown


def test_the_list_of_errors_leads_to_each_field():
    shown = show("form_errors.html", {"form": refused()})
    assert "The day is taken. Choose another." in shown
    for name in ("family", "mass_g", "limb"):
        assert f'href="#id_{name}"' in shown
    assert f'id="{"id_limb"}"' in show("field.html", {"field": refused()["limb"]})


def test_a_sound_form_lists_no_errors():
    assert show("form_errors.html", {"form": blank()}).strip() == ""


def test_a_form_with_a_file_is_sent_whole_and_with_its_token():
    shown = show("form.html", {"form": blank(), "action": "/x/", "submit": "Save"})
    assert 'enctype="multipart/form-data"' in shown
    assert shown.count("csrfmiddlewaretoken") == 1
    assert shown.count(f'value="{KEY}"') == 1


def test_a_search_form_puts_no_token_in_the_address():
    given = {"form": blank(), "action": "/x/", "submit": "Look", "method": "get"}
    assert "csrfmiddlewaretoken" not in show("form.html", given)


def test_a_press_carries_the_key_and_the_stage_that_was_seen():
    shown = show("press.html", {"url": "/d/", "label": "Demould", "key": KEY, "seen": "casting"})
    assert f'name="key" value="{KEY}"' in shown
    assert 'name="seen" value="casting"' in shown
    assert "csrfmiddlewaretoken" in shown


def test_the_pager_keeps_the_search():
    shown = show("pager.html", EXAMPLES["pager.html"]["in the middle"])
    assert "?q=wren&amp;page=4" in shown
    assert "?q=wren&amp;page=6" in shown
    assert show("pager.html", EXAMPLES["pager.html"]["one page"]).strip() == ""


def test_a_refusal_says_what_was_kept():
    assert "Nothing was changed." in show("refused.html", {"reasons": [HOSTILE]})
    many = show("refused.html", EXAMPLES["refused.html"]["many"])
    assert "The job is still drying. Weigh them tomorrow." in many


def test_a_caution_never_replaces_the_data_sheet():
    shown = show("caution.html", EXAMPLES["caution.html"]["one"])
    assert "does not replace the maker’s data sheet, local rules or professional advice" in shown
