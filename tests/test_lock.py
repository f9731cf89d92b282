"""The two locks fit pyproject.toml, carry a hash for every package, and no address."""

import re
import tomllib
from pathlib import Path

import pytest
from packaging.markers import Marker
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())
RUN_TIME = PROJECT["project"]["dependencies"]
TEST = PROJECT["dependency-groups"]["test"]
LOCKS = {"requirements.lock": RUN_TIME, "requirements-test.lock": RUN_TIME + TEST}

ENTRY = re.compile(
    r"^(?P<name>[a-z0-9-]+)==(?P<version>[^ ]+)(?: ; (?P<marker>[^\\]+))? \\\n"
    r"(?P<hashes>(?:    --hash=sha256:[0-9a-f]{64}(?: \\)?\n)+)",
    re.MULTILINE,
)


def entries(lock):
    """What the lock holds: {name: (version, marker or None)}."""
    return {
        found["name"]: (found["version"], found["marker"] and Marker(found["marker"]))
        for found in ENTRY.finditer((ROOT / lock).read_text())
    }


@pytest.mark.parametrize("lock", LOCKS)
def test_every_line_is_a_pinned_package_with_its_hashes(lock):
    text = (ROOT / lock).read_text()
    assert ENTRY.search(text)
    assert ENTRY.sub("", text) == "", "something in the lock is not `name==version` with hashes"


@pytest.mark.parametrize("lock", LOCKS)
def test_no_address_or_path_is_in_the_lock(lock):
    text = (ROOT / lock).read_text()
    assert not re.findall(
        r"^.*(?:://|--find|--index|--extra|\bfile:| @ |(?<!')/).*$", text, re.MULTILINE
    )


@pytest.mark.parametrize(
    ("lock", "wanted"),
    [(lock, wanted) for lock, all_of_it in LOCKS.items() for wanted in all_of_it],
)
def test_what_pyproject_asks_for_is_locked_at_a_version_that_fits(lock, wanted):
    requirement = Requirement(wanted)
    locked = entries(lock)
    name = canonicalize_name(requirement.name)
    assert name in locked, f"{name} is not in {lock}: run bin/lock"
    version, _ = locked[name]
    assert requirement.specifier.contains(version), f"{lock} has {name} {version}: run bin/lock"


def test_tests_run_on_the_versions_that_people_run():
    small, large = entries("requirements.lock"), entries("requirements-test.lock")
    assert {name: large.get(name) for name in small} == small
