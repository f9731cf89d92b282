"""A small slice of each long proof: see bin/prove."""

import ast
import re
import subprocess
import sys

import pytest

from tests.proofs import __main__ as proofs
from tests.proofs import mutants
from tests.proofs.mutating import mutants_of, mutated


def test_every_proof_says_in_a_line_what_it_proves(capsys):
    assert proofs.main() == 0
    listed = capsys.readouterr().out.splitlines()
    assert {line.split()[0] for line in listed} >= {
        "demo",
        "drying",
        "house",
        "mutants",
        "promises",
        "sittings",
        "weeks",
    }
    assert all(len(line.split()) > 4 for line in listed)


def test_an_unknown_proof_is_an_error_and_lists_those_there_are(capsys):
    assert proofs.main("houses") == 2
    assert "house " in capsys.readouterr().out


def test_a_missed_goal_ends_in_an_error(monkeypatch, capsys):
    house = proofs.import_module("tests.proofs.house")
    monkeypatch.setattr(house, "GOALS", {"kept": list, "missed": lambda: ["this one"]})
    assert proofs.main("house") == 1
    assert "Missed: missed: 1" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("source", "changed"),
    [
        ("x = a + b * c", ["a - b * c", "a + b / c"]),
        ("x = a <= b", ["a < b", "a > b"]),
        ("x = a and not b", ["a or not b", "a and b"]),
        ("x = max(n, 1)", ["min(n, 1)", "max(n, 2)"]),
        ("x = Decimal('0.5')", ["Decimal('1.5')"]),
        ("x: Literal[1] = True", ["False"]),
        ("x = Way.BUS, Way.TRAM", ["(Way.TRAM,)", "(Way.BUS,)"]),
        ("x = box.width, box.height", []),
        ("x = zip(a, b, strict=True)", []),
    ],
)
def test_a_slip_is_one_change(tmp_path, source, changed):
    path = tmp_path / "sums.py"
    path.write_text(source)
    made = [mutated(path, mutant.number) for mutant in mutants_of("sums", path)]
    assert [ast.unparse(tree.body[0].value) for tree in made] == changed


def test_what_a_function_returns_and_asks_is_changed_and_its_text_is_not(tmp_path):
    path = tmp_path / "sums.py"
    path.write_text('def f(x: int = 3) -> int:\n    """Three."""\n    if x:\n        return "a"\n')
    found = [(each.function, each.after) for each in mutants_of("sums", path)]
    assert found == [("f", "4"), ("f", "not x"), ("f", "return None")]


def test_each_mutant_listed_as_equivalent_is_still_there_and_has_a_reason():
    there = {mutant.key for room in mutants.ROOMS.values() for mutant in room.mutants()}
    listed = mutants.equivalents()
    assert sorted(listed.keys() - there) == []
    assert all(len(reason.split()) > 3 for reason in listed.values())


def test_the_same_seed_draws_the_same_sample():
    drawn = mutants.sample("slots", "1", 10)
    assert drawn == mutants.sample("slots", "1", 10)
    assert drawn != mutants.sample("slots", "2", 10)
    assert len(drawn) == 10


def test_the_tests_of_pure_rooms_load_without_django(tmp_path):
    (tmp_path / "pure.ini").touch()
    names = {each for room in mutants.ROOMS.values() if room.pure for each in room.tests.split()}
    tests = [mutants.ROOT / "tests" / name for name in sorted(names)]
    options = ["--collect-only", "-qq", "-c", tmp_path / "pure.ini", *mutants.PURE]
    found = subprocess.run(
        [sys.executable, "-m", "pytest", *options, *tests],
        capture_output=True,
        text=True,
        check=False,
    )
    assert found.returncode == 0, found.stdout


def test_slips_in_a_module_are_noticed_by_its_tests():
    found = subprocess.run(
        [sys.executable, "-m", "tests.proofs", "mutants", "slots", "--most", "3", "--jobs", "1"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert not found.stderr
    assert "seed 1" in found.stdout
    assert re.search(r"slots +[123] of +[123] killed", found.stdout), found.stdout
