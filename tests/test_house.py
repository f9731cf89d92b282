"""The house rules that a machine can check: see DEVELOPERS.md."""

import ast
import io
import re
import subprocess
import sys
from pathlib import Path

import pytest
from django.apps import apps
from django.core.management import call_command
from django.template import engines
from django.urls import URLPattern, get_resolver, reverse

from studio.event_words import is_registered
from studio.jobs.job_action import action_names
from tests.proofs import house

ROOT = Path(__file__).resolve().parent.parent
APPS = ("studio", "bookings", "production", "orders")
TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))
MODULES = sorted(
    path for app in APPS for path in (ROOT / app).rglob("*.py") if "migrations" not in path.parts
)


# Those goals of `bin/prove house` that may not be missed again; names as in house.GOALS.
GOALS_HELD = (
    "no circle of imports",
    "no import inside a function",
    "no module over 400 lines",
    "no function over 40 lines",
    "no template line over 120 characters",
    "no room over 12 files",
    "at most 15 mechanisms of 3 lines",
)


def named(path):
    return str(path.relative_to(ROOT))


@pytest.mark.parametrize("path", MODULES, ids=named)
def test_the_stage_is_written_in_one_place(path):
    if named(path) == "studio/stages.py":
        return
    written = re.findall(r"\.stage\s*=[^=]|update\([^)]*\bstage=", path.read_text())
    assert not written


# Names in backticks that are attributes of something else than a module of ours.
NOT_OURS = {"request.unit", "timezone.localdate", "secrets.choice", "sheet.errors"}


def names_of(path):
    """The dotted names that a module may be referred to by: itself, and what it defines."""
    module = named(path).removesuffix(".py").removesuffix("/__init__").replace("/", ".")
    yield module
    for node in ast.parse(path.read_text()).body:
        targets = node.targets if isinstance(node, ast.Assign) else [node]
        for each in targets:
            names = each.elts if isinstance(each, ast.Tuple) else [each]
            yield from (f"{module}.{getattr(one, 'name', getattr(one, 'id', ''))}" for one in names)


def test_a_module_that_a_docstring_or_a_comment_names_exists():
    """A reader follows the name: `judgement.judge_dryness` is in some module of that name."""
    known = {
        ".".join(parts[start:])
        for path in MODULES
        for name in names_of(path)
        if (parts := name.split("."))
        for start in range(len(parts) - 1)
    }
    stale = [
        f"{named(path)}: {name}"
        for path in MODULES
        for name in re.findall(r"`([a-z_]+(?:\.\w+)+)`", path.read_text())
        if name not in known | NOT_OURS and not name.endswith((".py", ".html", ".css"))
    ]
    assert stale == []


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_a_file_that_the_guide_names_exists(page):
    files = [f"/{named(path)}" for path in ROOT.rglob("*.py") if ".venv" not in path.parts]
    told = re.findall(r"`([\w/]+\.py)`", (ROOT / page).read_text())
    assert len(told) >= 5
    assert [each for each in told if not any(file.endswith(f"/{each}") for file in files)] == []


def test_the_goals_of_the_house_that_are_reached_stay_reached():
    assert {goal: broken for goal in GOALS_HELD if (broken := house.GOALS[goal]())} == {}


def sample(tmp_path, **texts):
    """Modules of these texts under these names; `__` in a name is a dot."""
    for name, text in texts.items():
        (tmp_path / f"{name}.py").write_text(text)
    return [house.Module(name.replace("__", "."), tmp_path / f"{name}.py") for name in texts]


def test_a_circle_is_found_and_type_checking_makes_none(tmp_path):
    found = sample(
        tmp_path,
        a__one="from a import two",
        a__two="def f():\n    from a.three import x",
        a__three="import a.one",
        a__four="from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from a.five import x",
        a__five="from a.four import x",
    )
    assert house.circles(house.ties(found)) == [["a.one", "a.three", "a.two"]]


def test_an_import_inside_a_function_is_found_unless_the_library_is_slow(tmp_path, monkeypatch):
    monkeypatch.setattr(house, "ROOT", tmp_path)
    body = "class A:\n    def ready(self):\n        import {}, {}\n"
    found = sample(
        tmp_path,
        apps=body.format("a.gates", "a.work"),
        slow=body.format("weasyprint", "ortools.sat"),
        late=body.format("weasyprint", "a.gates"),
    )
    assert house.late_imports(found) == ["late.py:3 weasyprint, a.gates"]


ACTIONS = [
    path
    for path in MODULES
    if "actions" in named(path)
    or re.search(r"^@(job|unit)_action", path.read_text("utf-8"), re.MULTILINE)
]


@pytest.mark.parametrize("path", ACTIONS, ids=named)
def test_actions_know_no_web_and_no_clock(path):
    tree = ast.parse(path.read_text())
    names = {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}
    attributes = {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    assert not names & {"request", "HttpRequest", "HttpResponse", "messages"}
    assert "now" not in attributes


@pytest.mark.django_db
def test_no_migration_is_missing():
    call_command("makemigrations", check=True, dry_run=True, stdout=io.StringIO())


def test_every_row_belongs_to_a_unit():
    """Each model has the unit itself or reaches it through rows that cannot be without it."""

    def reaches_unit(model, seen=()):
        if model.__name__ == "Unit":
            return True
        links = [
            field.related_model
            for field in model._meta.fields
            if field.is_relation and field.many_to_one | field.one_to_one and not field.null
        ]
        return any(link not in seen and reaches_unit(link, (*seen, model)) for link in links)

    homeless = {
        model.__name__
        for app in APPS
        for model in apps.get_app_config(app).get_models()
        if not reaches_unit(model)
    }
    # A person may work for several units; misses of private links belong to nobody.
    assert homeless == {"User", "LinkMiss"}


@pytest.mark.parametrize("path", TEMPLATES, ids=named)
def test_a_template_parses_titles_its_page_and_hides_nothing(path):
    text = path.read_text()
    engines["django"].get_template(str(path.relative_to(ROOT / "templates")))
    assert not re.search(r"\|\s*safe\b|\{%\s*autoescape off", text), (
        "escaping is never switched off"
    )
    assert not re.search(
        r"""<[^>!]*\sstyle\s*=|<style|<script(?![^>]*src)|hx-on|hx-vals=['"]js:""", text
    )
    if "{% extends" in text and "mail" not in path.parts:
        assert "{% block title %}" in text
    elif path.name.startswith("_") or path.parent.name == "parts":
        assert re.match(r"\{#|\{% comment %\}", text), "a part begins with what it takes"


@pytest.mark.parametrize("path", TEMPLATES, ids=named)
def test_a_line_of_a_template_can_be_read(path):
    assert [line for line in path.read_text().splitlines() if len(line) > 120] == []


def test_every_event_has_words_in_the_history():
    written = {what for path in MODULES for what in re.findall(r'what="(\w+)"', path.read_text())}
    written |= action_names
    assert len(written) > 40
    moves = {"move", "start_framing", "make_ready", "reopen_frame", "hand_over", "call_off"}
    assert [what for what in written - moves if not is_registered(what)] == []


# What takes a client's key without being an action on a job or on a unit, and what it goes by.
OTHERWISE_KEYED = {
    "give_consent": "a row of the family",
    "withdraw_consent": "the state of the consent",
    "order_material": "a row of the material",
    "correct_cost": "a line of the ledger, for one of several rows",
    "count_stock": "a line of the ledger for each material",
    "erase_photos": "an event on each of several jobs",
    "open_job": "an event on a job that is not there before",
    "split_off_pieces": "the actions that it calls",
    "send_enquiry": "the action that it calls",
    "add_photo": "the action that it calls, between two halves outside the transaction",
    "post_line": "the payment that it makes",
    "use_packaging": "the action that it runs in",
    "give_back": "the action that it runs in",
    "mirrored": "the action that it runs in",
}


def test_every_action_with_a_clients_key_looks_for_it_and_leaves_its_event():
    """By the decorators that do so: see studio.jobs.job_action, job_action and unit_action."""
    by_itself, decorated = set(), 0
    for path in ACTIONS:
        for each in ast.parse(path.read_text()).body:
            if not isinstance(each, ast.FunctionDef) or each.name.startswith("_"):
                continue
            if "key" not in {arg.arg for arg in each.args.kwonlyargs}:
                continue
            made_by = {
                node.id
                for deco in each.decorator_list
                for node in ast.walk(deco)
                if isinstance(node, ast.Name)
            }
            if made_by & {"job_action", "unit_action"}:
                decorated += 1
            else:
                by_itself.add(each.name)
    assert decorated > 50
    assert by_itself == set(OTHERWISE_KEYED)


def patterns(resolver=None, prefix=""):
    for entry in (resolver or get_resolver()).url_patterns:
        namespace = getattr(entry, "namespace", None)
        if isinstance(entry, URLPattern):
            yield f"{prefix}{entry.name}", entry
        elif namespace != "admin":
            yield from patterns(entry, f"{prefix}{namespace}:" if namespace else prefix)


def test_every_address_is_named_after_its_view():
    for name, pattern in patterns():
        view = pattern.callback
        if not hasattr(view, "view_class"):
            assert name.split(":")[1] == view.__name__, name


def test_the_front_door_is_the_log_in():
    assert reverse("studio:log_in") == "/log-in/"


# What registers itself when its module is imported: forgotten in an app's ready(), it is silently missing on a page.
REGISTERS = re.compile(
    r"^@(gate|today_source|job_panel|family_panel|piece_step|entry_kind|pack_part|work_kind|periodic|receiver"
    r"|work_source|promise_estimator)\b|^register\(",
    re.MULTILINE,
)


def test_what_registers_itself_is_imported_at_the_start():
    names = [
        ".".join(path.relative_to(ROOT).with_suffix("").parts)
        for path in MODULES
        if REGISTERS.search(path.read_text("utf-8"))
    ]
    assert len(names) > 20
    start = "import django, sys; django.setup(); print(*sys.modules, sep='\\n')"
    found = subprocess.run(
        [sys.executable, "-c", start], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert [name for name in names if name not in found.stdout.split()] == []
