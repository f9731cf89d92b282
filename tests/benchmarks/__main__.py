"""Measures what is asked for, or all of it, and prints it: see bin/bench."""

import argparse
import json
import os
import platform
import secrets
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from importlib.util import find_spec
from pathlib import Path
from time import monotonic

from tests.benchmarks import bank, cutting, pages, plans, safety, weight
from tests.benchmarks.measure import Ratio, table_of_ratios, table_of_weights
from tests.benchmarks.server import serving

FEW, MANY = 1_000, 100_000
SECTIONS = {
    "pages": "pages against a bare view of the same stack",
    "growth": f"pages at {MANY:,} jobs against {FEW:,}; other numbers by --jobs",
    "weight": "what the first view of a page fetches",
    "invoice": "an invoice as a PDF against WeasyPrint alone",
    "bank": "a bank's file of 10,000 rows, read and matched",
    "batch": "500 invoices in the background, and the worker's memory",
    "sheet": "the weekly sheet against a naive table, and at twice the jobs",
    "cutting": "the rails of 500 weeks: proven how often, in what time",
    "safety": "the stock that is kept for the unforeseen, tried out over invented years",
    "tablet": "the tablet without a signal, in Chromium and WebKitGTK: opened again, and a whole sitting",
    "plan": "the plan of up to 500 open jobs, quick and solved, and how it grows",
}
WITHOUT_SITES = {"cutting", "safety", "plan"}


def main():
    asked, began = _asked(), monotonic()
    with tempfile.TemporaryDirectory(prefix="caststead-bench-") as folder, ExitStack() as stack:
        environment = _environment(Path(folder))
        wanted = _wanted(asked.sections, asked.jobs)
        if wanted:
            _run(environment, "manage.py", "collectstatic", "--noinput", "--verbosity", "0")
        sites = dict(zip(wanted, _sites(environment, wanted, asked.postgres, stack), strict=True))
        database = "PostgreSQL" if asked.postgres else "SQLite"
        say(
            f"{os.cpu_count()} cores, Python {platform.python_version()}, {database}, gunicorn with "
            f"one worker; histories written after {monotonic() - began:.0f} s. "
            "Goals are shown, not judged."
        )
        for section in asked.sections:
            for line in MEASURED[section](sites, environment):
                say(line)
    say(f"\n{monotonic() - began:.0f} s in all.")


def _wanted(sections, many):
    """How many jobs the histories have that these sections look at."""
    if WITHOUT_SITES.issuperset(sections):
        return ()
    return (FEW, many) if "growth" in sections else (FEW,)


def say(line):
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def _asked():
    listed = "\n".join(f"  {name:9}{what}" for name, what in SECTIONS.items())
    parser = argparse.ArgumentParser(
        prog="bin/bench",
        description=f"Prints ratios measured in one run, each with its goal:\n\n{listed}\n\n"
        "With --postgres on PostgreSQL instead of SQLite.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("sections", nargs="*", metavar="NAME", help="only these; otherwise all")
    parser.add_argument(
        "--jobs",
        type=int,
        default=MANY,
        help=f"the jobs of the long history of growth; {MANY:,}. A million takes about 15 minutes and 6 GB",
    )
    parser.add_argument("--postgres", help=argparse.SUPPRESS)  # given by bin/bench
    asked = parser.parse_args()
    if unknown := set(asked.sections) - set(SECTIONS):
        parser.error(f"there is no {', '.join(sorted(unknown))}; there are {', '.join(SECTIONS)}")
    if asked.jobs <= FEW:
        parser.error(f"--jobs must be more than {FEW:,}, which it is compared with")
    asked.sections = asked.sections or list(SECTIONS)
    return asked


def _environment(folder):
    """The settings of bin/start for every process that is measured; `folder` is thrown away."""
    (folder / "bare").mkdir()
    inherited = {name: value for name, value in os.environ.items() if name != "DEBUG"}
    return inherited | {
        "DJANGO_SETTINGS_MODULE": "studio.settings",
        "SECRET_KEY": secrets.token_urlsafe(64),
        "CASTSTEAD_HTTPS": "false",
        "ALLOWED_HOSTS": "127.0.0.1",
        "CASTSTEAD_STATIC": str(folder / "static"),
        "CASTSTEAD_MEDIA": str(folder / "media"),
        "CASTSTEAD_BARE": str(folder / "bare"),
        "DATABASE_URL": f"sqlite:///{folder / 'jobs'}.sqlite3",
    }


def _sites(environment, wanted, postgres, stack):
    """Histories of so many jobs, written side by side, then served until the stack unwinds."""
    places = [environment | {"DATABASE_URL": _database(environment, postgres, n)} for n in wanted]
    with ThreadPoolExecutor() as side_by_side:
        written = side_by_side.map(
            lambda place, jobs: json.loads(
                _run(place, "-m", "tests.benchmarks.history", str(jobs))
            ),
            places,
            wanted,
        )
    for place, way_in in zip(places, written, strict=True):
        yield pages.Site(stack.enter_context(serving(place)), way_in, place["DATABASE_URL"])


def _database(environment, postgres, jobs):
    """The address of a database of its own."""
    if not postgres:
        return environment["DATABASE_URL"].replace(".sqlite3", f"-{jobs}.sqlite3")
    import psycopg  # noqa: PLC0415 - only where PostgreSQL is asked for

    with psycopg.connect(postgres, autocommit=True) as server:
        server.execute(f"CREATE DATABASE jobs_{jobs:d}")
    return f"{postgres.rpartition('/')[0]}/jobs_{jobs}"


def _run(environment, *arguments):
    """What a Python process of our own says; its complaints go to the screen."""
    done = subprocess.run(
        [sys.executable, *arguments], env=environment, stdout=subprocess.PIPE, check=True
    )
    return done.stdout


def _pages(sites, environment):
    ratios = list(pages.against_bare(sites[FEW], Path(environment["CASTSTEAD_BARE"])))
    title = f"Pages at {FEW:,} jobs against a bare view of the same stack"
    yield from table_of_ratios(title, ratios, "page", "bare view")


def _growth(sites, environment):
    many = max(sites)
    ratios = list(pages.growth(sites[FEW], sites[many]))
    return table_of_ratios(
        f"The same pages after {many // FEW} times as many jobs",
        ratios,
        f"{many:,} jobs",
        f"{FEW:,} jobs",
    )


def _weight(sites, environment):
    site = sites[FEW]
    views = [
        weight.first_view(site.server, "The parent's page, by its link", site.arrive, "", 108),
        weight.first_view(site.server, "Today, logged in", "/", site.way_in["log_in"], 100),
    ]
    return table_of_weights("First views, nothing kept by the browser", views)


def _paper(task, title, ours, theirs):
    def measured(sites, environment):
        place = environment | {"DATABASE_URL": sites[FEW].database}
        said = json.loads(_run(place, "-m", "tests.benchmarks.papers", task))
        return table_of_ratios(title, [Ratio(**each) for each in said], ours, theirs)

    return measured


def _cutting(sites, environment):
    return cutting.lines()


def _safety(sites, environment):
    return safety.lines()


def _bank(sites, environment):
    place = environment | {"DATABASE_URL": sites[FEW].database}
    return bank.lines(json.loads(_run(place, "-m", "tests.benchmarks.bank")))


def _batch(sites, environment):
    place = environment | {"DATABASE_URL": sites[FEW].database}
    (said,) = json.loads(_run(place, "-m", "tests.benchmarks.papers", "batch"))
    # The first hundred load the printer and its fonts.
    warm, end = said["mb"][2], max(said["mb"][2:])
    yield ""
    yield f"A batch: {said['words']} In {said['seconds']:.0f} s, each kept as a PDF with its data"
    yield f"  memory after each 50, MB: {', '.join(f'{mb:.0f}' for mb in said['mb'])}"
    yield f"  most after the first 100 against it: {end / warm:.2f}   goal ≤ 1.1"


def _tablet(sites, environment):
    yield ""
    yield "The tablet without a signal"
    if not find_spec("playwright"):
        yield "  not measured: it needs what requirements-test.lock names, which bin/test installs"
        return
    site = sites[FEW]
    said = _run(
        environment, "-m", "tests.benchmarks.tablet", str(site.server.port), site.way_in["log_in"]
    )
    yield said.decode().rstrip()


def _plan(sites, environment):
    return plans.lines()


MEASURED = {
    "pages": _pages,
    "growth": _growth,
    "weight": _weight,
    "invoice": _paper("invoice", "An invoice against WeasyPrint alone", "invoice", "WeasyPrint"),
    "bank": _bank,
    "batch": _batch,
    "sheet": _paper("sheet", "The weekly sheet", "sheet", "against"),
    "cutting": _cutting,
    "safety": _safety,
    "tablet": _tablet,
    "plan": _plan,
}

if __name__ == "__main__":
    main()
