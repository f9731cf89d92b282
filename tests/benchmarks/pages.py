"""The pages over HTTP: against a bare view of the same stack, and in a history a hundred times longer."""

from dataclasses import dataclass

from tests.benchmarks.measure import Ratio, in_turn
from tests.benchmarks.server import Server

AGAINST_BARE = ("today", "bench", "job", "parents_page")
ROUNDS_BARE = 200
ROUNDS_GROWTH = 60
WARM = 12  # every thread of the worker has its connection and its templates


@dataclass(frozen=True)
class Site:
    """A served history: its pages, the cookies that open them, the address of its database."""

    server: Server
    way_in: dict
    database: str

    @property
    def arrive(self):
        return self.way_in["arrive"]

    def page(self, name):
        return self.server.page(self.way_in["pages"][name], self._cookie(name))

    def bare(self, name):
        """The bare view behind the same door as the page."""
        door = self.way_in["pages"][name] if name == "parents_page" else "/"
        return self.server.page(f"{door}bare/{name}/", self._cookie(name))

    def _cookie(self, name):
        return self.way_in["follow" if name == "parents_page" else "log_in"]


def against_bare(site, captured):
    """Each page against its own HTML as a static template; `captured` is the folder of those."""
    for name in AGAINST_BARE:
        html = site.page(name).body
        (captured / f"{name}.html").write_bytes(html)
        if len(site.bare(name).body) != len(html):
            raise RuntimeError(f"The bare view does not say what {name} says.")
        ours, theirs = in_turn(
            lambda name=name: site.page(name),
            lambda name=name: site.bare(name),
            ROUNDS_BARE,
            WARM,
        )
        yield Ratio(f"{_said(name)} ({len(html) / 1000:.0f} kB)", ours, theirs, 10, "median")


def growth(few, many):
    """Each page at many jobs against the same page at few."""
    for name in few.way_in["pages"]:
        ours, theirs = in_turn(
            lambda name=name: many.page(name),
            lambda name=name: few.page(name),
            ROUNDS_GROWTH,
            WARM,
        )
        yield Ratio(_said(name), ours, theirs, 1.3, "median")


def _said(name):
    return {"parents_page": "The parent's page", "job": "A job"}.get(name, name.capitalize())
