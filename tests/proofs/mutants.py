"""Do the tests notice a slip? Small wrong changes to the modules of money and of casts, each against its tests.

A seeded sample of at most 100 mutants per room of `ROOMS`, two at a time, within the hour. A mutant is killed
when a test fails or the tests take three times as long; it is left out when `equivalent_mutants.txt` says why
it changes nothing. A warmed-up process is forked for each: it imports the
changed file in place of the real one and runs the tests from the start, on a copy of one empty database.

mutmut 3 was looked at first. It changes neither what lies outside functions (the table of moves, rates,
densities) nor a function with a decorator (`move`, every property), which are most of what we ask about, and it
draws no sample.
"""

import argparse
import gc
import os
import resource
import shutil
import signal
import sys
import tempfile
from dataclasses import dataclass
from hashlib import sha256
from importlib import import_module
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec, SourceFileLoader
from importlib.util import spec_from_file_location
from pathlib import Path
from time import monotonic
from types import CodeType

import hypothesis
import pytest
from django.conf import settings as django_settings

from tests.proofs.mutating import Mutant, mutants_of, mutated

ROOT = Path(__file__).resolve().parents[2]
EQUIVALENT = Path(__file__).with_name("equivalent_mutants.txt")
MOST, GOAL_PERCENT = 100, 90
MEMORY_BYTES = 4 << 30


@dataclass(frozen=True)
class Room:
    """Modules (a package stands for all its modules) and the tests that are theirs, the quickest first.

    `pure`: neither needs Django. `wanted`: pytest's `-k`, where some of the tests repeat others at length.
    """

    modules: str
    tests: str
    pure: bool = True
    wanted: str = ""

    def files(self) -> list[tuple[str, Path]]:
        """Dotted name and path of each module."""
        found = []
        for name in self.modules.split():
            path = ROOT.joinpath(*name.split("."))
            paths = sorted(path.glob("*.py")) if path.is_dir() else [path.with_suffix(".py")]
            for each in paths:
                dotted = ".".join(each.relative_to(ROOT).with_suffix("").parts)
                found.append((dotted.removesuffix(".__init__"), each))
        return found

    def mutants(self) -> list[Mutant]:
        return [mutant for file in self.files() for mutant in mutants_of(*file)]


ROOMS = {
    "stages": Room("studio.stages", "studio/test_stages.py", pure=False),
    "vat": Room("orders.prices.vat", "orders/prices/test_vat.py"),
    "pricing": Room(
        "orders.prices.pricing", "reference/test_money_vectors.py orders/prices/test_pricing.py"
    ),
    "ledger": Room("orders.books.ledger", "orders/books/test_ledger.py"),
    "royalty": Room(
        "orders.royalty.franchise_fee",
        "orders/royalty/test_franchise_fee.py reference/test_money_codes_published.py",
    ),
    "e-invoice": Room("orders.invoices.einvoice", "orders/invoices/test_einvoice.py"),
    "plaster": Room(
        "production.plaster", "production/test_plaster.py reference/test_plaster_tables.py"
    ),
    "ages": Room(
        "bookings.sittings.ages", "bookings/sittings/test_ages.py reference/test_ages_published.py"
    ),
    "slots": Room("bookings.times", "bookings/test_times.py"),
    "framing": Room(
        "production.frames.design",
        "production/frames/test_layout.py reference/test_framing_published.py",
    ),
    "drying": Room(
        "production.drying",
        "production/drying/test_clock.py reference/test_air_published.py"
        " reference/test_drying_published.py production/drying/test_figures.py"
        " production/drying/test_drying.py production/drying/test_forecast.py"
        " reference/test_drying_histories.py",
        wanted="not 9201",  # one thousand histories of the two
    ),
    "cutting": Room(
        "production.frames.cutting",
        "reference/test_cutting_published.py production/frames/test_cutting.py",
    ),
    "plan facts": Room(
        "production.planning.solver.model",
        "production/planning/test_model.py production/planning/test_greedy.py",
    ),
}
# Loaded once, before the first fork; nothing of the project is, so that a fork imports it changed.
WARM = [
    *("_pytest.python", "_pytest.fixtures", "_pytest.runner", "_pytest.terminal"),
    *("pytest_django.plugin", "hypothesis.strategies", "hypothesis.internal.conjecture.engine"),
    *("django.db.backends.sqlite3.base", "django.test", "django.forms", "django.views.generic"),
    *("django.core.management.commands.migrate", "django.template.engine"),
    *("storages.backends.s3", "environs", "babel.numbers", "phonenumbers", "dateutil.rrule"),
    *("numpy", "lxml.etree", "PIL.Image", "psychrolib", "govuk_bank_holidays.bank_holidays"),
    *("ortools.sat.python.cp_model", "scipy.integrate", "pypdf", "pikepdf", "facturx"),
]
OPTIONS = [
    *("-x", "-q", "--assert=plain", "--tb=short", "--no-header", "--hypothesis-profile=mutants"),
    *("-p", "no:randomly", "-p", "no:cacheprovider", "-p", "no:xdist"),
]
# Pure functions are tested four times as fast without Django, its settings and our fixtures.
PURE = ["-p", "no:django", "-p", "no:env", "--noconftest", "--rootdir", str(ROOT)]
hypothesis.settings.register_profile(
    "mutants",
    deadline=None,
    max_examples=25,
    derandomize=True,
    database=None,
    phases=[hypothesis.Phase.explicit, hypothesis.Phase.generate],
)


class _Loader(SourceFileLoader):
    """Loads a file with one change."""

    number: int

    def get_code(self, fullname: str) -> CodeType:
        return compile(mutated(Path(self.path), self.number), self.path, "exec")


class _Finder(MetaPathFinder):
    """Finds the mutant in place of its module."""

    def __init__(self, mutant: Mutant) -> None:
        self.mutant = mutant

    def find_spec(self, name: str, path: object, target: object = None) -> ModuleSpec | None:
        if name != self.mutant.module:
            return None
        loader = _Loader(name, str(self.mutant.path))
        loader.number = self.mutant.number
        return spec_from_file_location(name, self.mutant.path, loader=loader)


class _Database:
    """A pytest plugin: the test database is this file."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def pytest_sessionstart(self) -> None:
        connection = import_module("django.db").connection
        connection.settings_dict["TEST"]["NAME"] = str(self.path)


@dataclass
class Run:
    """One fork that runs tests; `limit_s` of computing ends it."""

    room: Room
    mutant: Mutant | None
    folder: Path
    limit_s: float
    pid: int = 0

    @property
    def log(self) -> str:
        return (self.folder / "log").read_text(errors="replace")

    def start(self) -> None:
        sys.stdout.flush()
        self.pid = os.fork()
        if not self.pid:
            code = 1
            try:
                code = self._test()
            finally:
                os._exit(code)

    def _test(self) -> int:
        log = os.open(self.folder / "log", os.O_WRONLY | os.O_CREAT)
        os.dup2(log, 1)
        os.dup2(log, 2)
        signal.setitimer(signal.ITIMER_PROF, self.limit_s)  # not caught: it ends the process
        signal.alarm(int(self.limit_s * 10))  # for one that only waits
        resource.setrlimit(resource.RLIMIT_DATA, (MEMORY_BYTES, MEMORY_BYTES))
        if self.mutant:
            sys.meta_path.insert(0, _Finder(self.mutant))
        options = [*OPTIONS, f"--basetemp={self.folder / 'tmp'}"]
        if self.room.pure:
            django_settings.configure(
                USE_I18N=False
            )  # words come untranslated, without Django's apps
            (self.folder / "pure.ini").touch()
            options += ["-c", str(self.folder / "pure.ini"), *PURE]
        options += ["-k", self.room.wanted] if self.room.wanted else []
        tests = [str(ROOT / "tests" / each) for each in self.room.tests.split()]
        plugins = [] if self.room.pure else [_Database(self.folder / "test.sqlite3")]
        return int(pytest.main([*options, *tests], plugins=plugins))


class Bench:
    """Runs forks, `jobs` at a time, each in a folder and on a database of its own."""

    def __init__(self, jobs: int, home: Path) -> None:
        self.jobs, self.home = jobs, home
        self.running: dict[int, Run] = {}

    def start(self, room: Room, mutant: Mutant | None, limit_s: float) -> None:
        run = Run(room, mutant, Path(tempfile.mkdtemp(dir=self.home)), limit_s)
        run.start()
        self.running[run.pid] = run

    def wait(self) -> tuple[Run, int, float]:
        """The next run that ends, its exit code (negative: the signal) and the seconds of computing."""
        pid, status, usage = os.wait4(-1, 0)
        run = self.running.pop(pid)
        return run, os.waitstatus_to_exitcode(status), usage.ru_utime + usage.ru_stime

    def must_pass(self, room: Room) -> float:
        """Run the tests on the unchanged code; return the seconds of computing."""
        self.start(room, None, 600)
        run, code, seconds = self.wait()
        if code:
            sys.exit(f"The tests fail on the unchanged code: {room.tests}\n{run.log}")
        shutil.rmtree(run.folder)
        return seconds


def equivalents() -> dict[str, str]:
    """The key of each mutant that changes nothing, and the reason."""
    lines = [line for line in EQUIVALENT.read_text().splitlines() if line and line[0] != "#"]
    return {key: reason for key, _, reason in (line.rpartition(" | ") for line in lines)}


def sample(room: str, seed: str, most: int) -> list[Mutant]:
    """At most so many mutants of the room: the same for the same seed, also after a change elsewhere."""
    every = ROOMS[room].mutants()
    drawn = sorted(every, key=lambda mutant: sha256(f"{seed} {mutant.key}".encode()).digest())
    return sorted(drawn[:most], key=every.index)


def _judge(room: str, drawn: list[Mutant], bench: Bench) -> tuple[int, int]:
    """Run each of these mutants; print the survivors; return how many were killed, and of how many."""
    began, computing_s = monotonic(), 0.0
    limit_s = 10 + 3 * bench.must_pass(ROOMS[room])
    known = equivalents()
    waiting = [mutant for mutant in reversed(drawn) if mutant.key not in known]
    created, survived = len(waiting), 0
    while waiting or bench.running:
        if waiting and len(bench.running) < bench.jobs:
            bench.start(ROOMS[room], waiting.pop(), limit_s)
            continue
        run, code, seconds = bench.wait()
        computing_s += seconds
        shutil.rmtree(run.folder)
        if run.mutant and not code:
            survived += 1
            where = f"{run.mutant.path.relative_to(ROOT)}:{run.mutant.line}"
            print(f"    survived: {where}  {run.mutant.key}", flush=True)
    killed, same = created - survived, len(drawn) - created
    took = f"{monotonic() - began:5.0f} s ({computing_s:.0f} s of computing)"
    print(f"{room:12} {killed:4} of {created:4} killed, {same:2} equivalent, {took}", flush=True)
    return killed, created


def prove(arguments: list[str]) -> list[str]:
    """Print killed and created per room and in all; the goal is nine in ten of each room."""
    parser = argparse.ArgumentParser(prog="bin/prove mutants")
    parser.add_argument("rooms", nargs="*", metavar="ROOM", help=f"of {', '.join(ROOMS)}; all")
    parser.add_argument("--seed", default="1", help="draws the sample; 1")
    parser.add_argument("--most", type=int, default=MOST, help=f"mutants per room; {MOST}")
    parser.add_argument("--jobs", type=int, default=2, help="at a time; 2")
    options = parser.parse_args(arguments)
    print(f"seed {options.seed}")
    for name in WARM:
        import_module(name)
    gc.freeze()
    gc.disable()  # a fork ends before it needs it
    results = {}
    with tempfile.TemporaryDirectory() as home:
        bench = Bench(options.jobs, Path(home))
        for room in options.rooms or ROOMS:
            results[room] = _judge(room, sample(room, options.seed, options.most), bench)
    killed, created = (sum(each) for each in zip(*results.values(), strict=True))
    print(f"{'in all':12} {killed:4} of {created:4} killed")
    return [
        f"{room}: {killed} of {created} killed, to be {GOAL_PERCENT} %"
        for room, (killed, created) in results.items()
        if killed * 100 < created * GOAL_PERCENT
    ]
