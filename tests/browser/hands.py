"""One hand on the tablet, in either engine: it opens, presses, looks, and kills the tab.

Chromium by Playwright; WebKitGTK, the nearest to the tablet's own, by its driver in an Xvfb. What the
page is asked are functions of JavaScript in both, so that a test is written once. Every wait in here
has a limit, and `Limit` ends the engines themselves where one did not hold.
"""

import os
import select
import shutil
import signal
import subprocess
import threading
from contextlib import contextmanager, suppress
from pathlib import Path

from django.conf import settings
from playwright.sync_api import Error as PlaywrightError
from selenium import webdriver
from selenium.common.exceptions import (
    ElementNotInteractableException,
    StaleElementReferenceException,
)
from selenium.webdriver.common.by import By
from selenium.webdriver.remote.client_config import ClientConfig
from selenium.webdriver.remote.file_detector import UselessFileDetector
from selenium.webdriver.remote.remote_connection import RemoteConnection
from selenium.webdriver.webkitgtk.options import Options
from selenium.webdriver.webkitgtk.service import Service

from tests.browser.axe import ENGINE, RULES, VIOLATIONS
from tests.browser.windows import launch_options

PATIENCE_S = 30
COMMAND_S = PATIENCE_S + 15  # of the driver: the page gives up first, and says why
MOST_TRIES = 20
# The bar of MiniBrowser takes what it likes of the window: asked for, then told.
INNER = "() => [innerWidth, innerHeight, outerHeight]"
UNTIL_WIDE = """async (wide) => {
  const end = Date.now() + 500;
  while (innerWidth !== wide && Date.now() < end) await new Promise((done) => setTimeout(done, 15));
  return innerWidth === wide;
}"""
INTO_VIEW = """selector => {
  const there = document.querySelector(selector), box = there.getBoundingClientRect();
  if (box.top < 0 || box.bottom > innerHeight) there.scrollIntoView({ block: "center" });
}"""
# Asks in the page itself, again and again, and resolves as soon as there is an answer.
UNTIL = """async (given) => {{
  const asked = {function}, end = Date.now() + {patience_ms};
  for (;;) {{
    const found = await asked(given);
    if (found || Date.now() > end) return found || null;
    await new Promise((done) => setTimeout(done, 8));
  }}
}}"""
MINI_BROWSER = "webkit2gtk-4.*/MiniBrowser"
WEB_PROCESS = "WebKitWebProces"  # as the kernel cuts its name


class Limit:
    """After so many seconds the engines that a test started are ended, and so whatever waits for them."""

    def __init__(self, seconds):
        self.seconds, self.over = seconds, False
        self.pids, self.groups = [], []
        self._timer = threading.Timer(seconds, self._end)
        self._timer.daemon = True
        self._timer.start()

    def close(self):
        self._timer.cancel()
        assert not self.over, f"took longer than {self.seconds} s: its browser was ended"

    def _end(self):
        self.over = True
        for end, each in [(os.kill, pid) for pid in self.pids] + [
            (os.killpg, group) for group in self.groups
        ]:
            with suppress(ProcessLookupError):
                end(each, signal.SIGKILL)


class Hand:
    """What both engines have in common. `home` is the address of the site, without a slash."""

    home = ""

    def until(self, function, given=None):
        """Wait until a function of the page brings something, and return that."""
        found = self.ask(UNTIL.format(function=function, patience_ms=PATIENCE_S * 1000), given)
        assert found, f"never came true: {function} of {given}\n{self.words()}"
        return found

    def words(self):
        return self.ask("() => document.body.innerText")

    def complaints(self):
        """What the accessibility engine finds, one line each."""
        if not self.ask("() => typeof axe === 'object'"):
            self.load(ENGINE)
        return [
            f"{violation['id']}: {node['html'][:160]}"
            for violation in self.ask(VIOLATIONS, RULES)
            for node in violation["nodes"]
        ]


class Chromium(Hand):
    name = "chromium"

    def __init__(self, browser, size):
        width, height = size
        self.context = browser.new_context(
            viewport={"width": width, "height": height},
            locale="en-GB",
            timezone_id="Europe/London",
        )
        self.context.set_default_timeout(PATIENCE_S * 1000)
        self.page = self.context.new_page()

    def log_in(self, session):
        cookie = {"name": settings.SESSION_COOKIE_NAME, "value": session, "url": self.home}
        self.context.add_cookies([cookie])

    def open(self, path):
        self.page.goto(self.home + path)

    def ask(self, function, given=None):
        return self.page.evaluate(function, given)

    def press(self, selector):
        self.page.locator(selector).click()

    def load(self, source):
        self.page.evaluate(source)

    def give_file(self, selector, path):
        self.page.set_input_files(selector, path)

    def resize(self, width, height):
        self.page.set_viewport_size({"width": width, "height": height})

    def picture(self, path):
        self.page.screenshot(path=path)

    def kill(self):
        """The tab's process dies as it stands; a new tab is there."""
        with suppress(PlaywrightError):
            self.page.goto("chrome://crash")
        self.page.close()
        self.page = self.context.new_page()

    def close(self):
        self.context.close()


class WebKit(Hand):
    name = "webkit"

    def __init__(self, driver, size):
        self.driver = driver
        self.spare = driver.current_window_handle
        self._new_window()
        self.resize(*size)

    def log_in(self, session):
        # The driver takes a cookie only for the page that is open.
        tablet = self.driver.current_window_handle
        self.driver.switch_to.window(self.spare)
        self.open("/static/icons/favicon.svg")
        self.driver.add_cookie(
            {"name": settings.SESSION_COOKIE_NAME, "value": session, "path": "/"}
        )
        # Under its driver the browser keeps all in memory, and a site's files only as long as a
        # window of that site holds them open: this one does, and is never killed.
        self.ask("() => caches.keys().then(() => true)")
        self.driver.switch_to.window(tablet)

    def open(self, path):
        self.driver.get(self.home + path)

    def ask(self, function, given=None):
        return self.driver.execute_script(f"return ({function})(arguments[0])", given)

    def press(self, selector):
        # Its driver does not scroll what lies below the window; and news from home may have drawn
        # the button anew since it was found.
        for _ in range(MOST_TRIES):
            with suppress(StaleElementReferenceException, ElementNotInteractableException):
                self.ask(INTO_VIEW, selector)
                return self.driver.find_element(By.CSS_SELECTOR, selector).click()
        raise AssertionError(f"{selector} never stood still")

    def load(self, source):
        self.driver.execute_script(f"{source}; window.axe = axe;")

    def give_file(self, selector, path):
        self.driver.find_element(By.CSS_SELECTOR, selector).send_keys(str(path))

    def resize(self, width, height):
        """To so much room for the page: the bar of the browser comes on top."""
        for _ in range(MOST_TRIES):  # a new window may not hear the first
            self.driver.set_window_size(width, height)
            if self.ask(UNTIL_WIDE, width):
                break
        else:
            raise AssertionError(f"the window never became {width} px wide")
        _, high, outer = self.ask(INNER)
        self.driver.set_window_size(width, height + outer - high)

    def picture(self, path):
        self.driver.save_screenshot(str(path))

    def kill(self):
        """The tab's process is stopped as it stands, and never goes on; a new tab is there.

        Its driver gives up the whole session where it sees such a process die, so the window is
        closed over the one that stands still before that is killed.
        """
        for pid in self.processes:
            os.kill(pid, signal.SIGSTOP)
        self.driver.close()
        for pid in self.processes:
            with suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        self.driver.switch_to.window(self.spare)
        self._new_window()

    def close(self):
        """Ends with its driver: see `a_webkit`."""

    def _new_window(self):
        before = self._web_processes()
        self.driver.switch_to.new_window("window")
        self.processes = self._web_processes() - before
        assert self.processes, "the new window has no process of its own"

    def _web_processes(self):
        """Those of this browser: none that somebody else started."""
        (browser,) = _children(self.driver.started_by)
        return {pid for pid in _children(browser) if _name(pid) == WEB_PROCESS}


def _children(pid):
    return [int(each) for each in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


def _name(pid):
    try:
        return Path(f"/proc/{pid}/comm").read_text().strip()
    except FileNotFoundError:
        return ""


@contextmanager
def own_chromium(kind, limit):
    """A Chromium of its own, of Playwright's `kind`, so that ending it ends nobody else's."""
    own = kind.launch(**launch_options())
    told = own.new_browser_cdp_session().send("SystemInfo.getProcessInfo")["processInfo"]
    limit.pids += [each["id"] for each in told if each["type"] == "browser"]
    try:
        yield own
    finally:
        own.close()


@contextmanager
def a_webkit(limit):
    """A driver of WebKitGTK on a screen of its own; all that it started ends with it."""
    browser = next(Path("/usr/lib").glob(f"*/{MINI_BROWSER}"), None)
    driver, screen = shutil.which("WebKitWebDriver"), shutil.which("Xvfb")
    assert browser, "These tests need WebKitGTK: install the package webkit2gtk-driver."
    assert driver, "These tests need WebKitGTK: install the package webkit2gtk-driver."
    assert screen, "These tests need a screen of their own: install the package xvfb."
    with _a_screen(screen) as display, _a_session(str(browser), driver, display, limit) as session:
        yield session


@contextmanager
def _a_screen(path):
    read, write = os.pipe()
    process = subprocess.Popen(
        [path, "-displayfd", str(write), "-screen", "0", "1400x1300x24", "-nolisten", "tcp"],
        pass_fds=[write],
        stderr=subprocess.DEVNULL,
    )
    os.close(write)
    try:
        with os.fdopen(read) as told:
            assert select.select([told], [], [], PATIENCE_S)[0], "Xvfb named no screen"
            yield f":{told.readline().strip()}"
    finally:
        process.kill()
        process.wait(PATIENCE_S)


@contextmanager
def _a_session(browser, path, display, limit):
    options = Options()
    options.binary_location = browser
    options.add_argument("--automation")
    env = os.environ | {
        "DISPLAY": display,
        "GDK_BACKEND": "x11",
        "TZ": "Europe/London",
        "LIBGL_ALWAYS_SOFTWARE": "1",
        "NO_AT_BRIDGE": "1",
        "WEBKIT_DISABLE_SANDBOX_THIS_IS_DANGEROUS": "1",  # as root there is none
    }
    # A group of its own: the browser and its processes end with the driver, at once.
    own = {"start_new_session": True}
    service = Service(path, env=env, log_output=subprocess.DEVNULL, popen_kw=own)
    try:
        service.start()
        limit.groups.append(service.process.pid)
        config = ClientConfig(remote_server_addr=service.service_url, timeout=COMMAND_S)
        driver = webdriver.Remote(RemoteConnection(client_config=config), options=options)
        driver.file_detector = UselessFileDetector()  # its files are this machine's
        driver.started_by = service.process.pid
        driver.set_script_timeout(PATIENCE_S + 5)
        driver.set_page_load_timeout(PATIENCE_S)
        yield driver
    finally:
        # Without a word to it: its polite ending has hung.
        if service.process:
            with suppress(ProcessLookupError):
                os.killpg(service.process.pid, signal.SIGKILL)
            service.process.wait(PATIENCE_S)
        service.stop()
