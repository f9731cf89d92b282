"""The tablet without a signal: how long a second opening takes, and a whole sitting of four limbs.

In each engine that is there. Runs in a process of its own: `python -m tests.benchmarks.tablet PORT COOKIE`.
"""

import shutil
import statistics
import sys
import time
from contextlib import contextmanager

import django
from playwright.sync_api import sync_playwright

from tests.browser.hands import Chromium, Limit, WebKit, a_webkit, own_chromium
from tests.browser.link import Link
from tests.browser.sitter import Sitter
from tests.browser.tablet import TABLET

HOST = "127.0.0.1"
MOST_S = 180
OPENINGS = 5
# What is pressed at each question when all goes well.
PRESSED = {
    "who": "#who-contact",
    "consent": "#yes",
    "cautions": "#ready",
    "limb": "#taken",
    "look": "#look",
    "deposit": "#pay-card",
    "summary": "#finish",
}
FOUR_LIMBS = """() => [...document.querySelectorAll(".answer[id^=sitting-]")]
  .find((each) => /: 4 limbs/.test(each.textContent) && !each.querySelector(".status"))?.id"""  # not done yet


def main(port, cookie):
    django.setup()
    _name, _, session = cookie.partition("=")
    for engine in (_chromium, _webkit):
        with engine() as hand:
            if hand is None:
                _say(f"  {engine.__name__[1:]}: not installed, not measured")
                continue
            _measure(hand, int(port), session)


def _measure(hand, port, session):
    link = Link(HOST, port)
    hand.home = link.url
    hand.log_in(session)
    sitter = Sitter(hand, seed=1)
    sitter.take_along(1)
    link.mode = "cut"
    opened_s = []
    for _ in range(OPENINGS):
        hand.kill()
        began = time.monotonic()
        sitter.open()
        opened_s.append(time.monotonic() - began)
    taps, took_s = _whole_sitting(sitter)
    link.close()
    _say(
        f"  {hand.name}: open again in {statistics.median(opened_s):.2f} s, at worst "
        f"{max(opened_s):.2f} s   goal < 1 s; four limbs in {taps} taps   goal ≤ 14, "
        f"{took_s:.2f} s of driver time   goal < 60 s"
    )


def _whole_sitting(sitter):
    """From the list to the end of the sitting: (taps, seconds)."""
    first = f"#{sitter.hand.until(FOUR_LIMBS)}"
    began, taps = time.monotonic(), 0
    while (step := sitter.screen["step"]) != "over":
        sitter.move(first if step == "list" else PRESSED[step.partition(":")[0]])
        taps += 1
    return taps, time.monotonic() - began


@contextmanager
def _chromium():
    limit = Limit(MOST_S)
    with sync_playwright() as playwright, own_chromium(playwright.chromium, limit) as browser:
        yield Chromium(browser, TABLET)
    limit.close()


@contextmanager
def _webkit():
    if not (shutil.which("WebKitWebDriver") and shutil.which("Xvfb")):
        yield None
        return
    limit = Limit(MOST_S)
    with a_webkit(limit) as driver:
        yield WebKit(driver, TABLET)
    limit.close()


def _say(line):
    sys.stdout.write(f"{line}\n")


if __name__ == "__main__":
    main(*sys.argv[1:])
