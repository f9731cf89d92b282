"""Two ways of doing a thing, timed in turn, and the table that shows them."""

import statistics
from dataclasses import dataclass
from time import perf_counter


@dataclass(frozen=True)
class Ratio:
    """Ours against theirs: seconds of each, measured in turn. `by` says what is divided."""

    what: str
    ours: list[float]
    theirs: list[float]
    goal: float | None
    by: str  # "p95" or "median"

    @property
    def value(self):
        of = p95 if self.by == "p95" else statistics.median
        return of(self.ours) / of(self.theirs)


@dataclass(frozen=True)
class Weight:
    """What a browser fetches for the first view of a page."""

    what: str
    size_bytes: int
    requests: int
    other_hosts: list[str]
    goal_kb: int


def p95(seconds):
    return statistics.quantiles(seconds, n=20, method="inclusive")[-1]


def in_turn(ours, theirs, rounds, warm=3, before=None):
    """Times two functions one after the other, so that both meet the same noise of the machine.

    Who goes first changes from round to round. `before` is done before each round, untimed.
    """
    for _ in range(warm):
        ours()
        theirs()
    ours_s, theirs_s = [], []
    for place in range(rounds):
        if before:
            before()
        pair = ((ours, ours_s), (theirs, theirs_s))
        for run, kept in pair if place % 2 else reversed(pair):
            began = perf_counter()
            run()
            kept.append(perf_counter() - began)
    return ours_s, theirs_s


def table_of_ratios(title, ratios, ours="ours", theirs="theirs"):
    """The lines of a table; times in milliseconds."""
    yield ""
    yield f"{title}; n = {len(ratios[0].ours)} each, in turn, milliseconds"
    yield f"  {'':40}{ours:>17}  {theirs:>17}"
    yield f"  {'':40}{'median':>9}{'p95':>8}  {'median':>9}{'p95':>8}   ratio of   is      goal"
    for each in ratios:
        numbers = (
            1000 * of(seconds)
            for seconds in (each.ours, each.theirs)
            for of in (statistics.median, p95)
        )
        a, b, c, d = (f"{number:.1f}" if number < 1000 else f"{number:.0f}" for number in numbers)
        yield (
            f"  {each.what:40}{a:>9}{b:>8}  {c:>9}{d:>8}   {each.by:8}"
            f"{each.value:6.2f}   " + (f"≤ {each.goal:g}" if each.goal else "–")
        )


def table_of_weights(title, weights):
    yield ""
    yield title
    yield f"  {'':40}{'kB':>9}{'requests':>12}   other hosts   goal"
    for each in weights:
        hosts = ", ".join(each.other_hosts) or "none"
        yield (
            f"  {each.what:40}{each.size_bytes / 1000:9.1f}{each.requests:12}   {hosts:11}"
            f"   < {each.goal_kb} kB"
        )
