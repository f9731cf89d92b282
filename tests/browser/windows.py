"""A window of a real browser on the running site, which notes whatever goes wrong in it."""

import os
import shutil

PATIENCE_MS = 30_000
CHROMIUMS = ("chromium-headless-shell", "chromium", "google-chrome")
# How far a page scrolls sideways, and what sticks out furthest; null where it does not.
TOO_WIDE = """() => {
  const root = document.documentElement;
  const over = root.scrollWidth - root.clientWidth;
  if (over <= 0) return null;
  const [, far] = [...document.querySelectorAll("body *")]
    .map((each) => [each.getBoundingClientRect().right, each])
    .reduce((furthest, next) => (next[0] > furthest[0] ? next : furthest));
  return `${over} px too wide: ${far.outerHTML.slice(0, 140)}`;
}"""


def launch_options():
    """Return what Playwright is to launch: the machine's own Chromium, never one that is downloaded.

    The headless shell is preferred: the same engine without tabs and menus around a page, which
    cost more time than the pages.
    """
    path = os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, CHROMIUMS)), None)
    assert path, f"These tests need Chromium: install the package {CHROMIUMS[0]}, or set CHROMIUM."
    args = ["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
    return {"executable_path": path, "args": args}


class Window:
    """One browser context with one page; `faults` grows by itself."""

    def __init__(self, context, home):
        self.context = context
        self.home = home
        self.faults = []
        context.set_default_timeout(PATIENCE_MS)
        self.page = context.new_page()
        self.page.on("console", self._on_console)
        self.page.on("pageerror", lambda error: self._note(f"script: {error}"))
        self.page.on("requestfailed", self._on_failed)
        self.page.on("request", self._on_request)
        self.page.on("response", self._on_response)

    def open(self, url, status=200):
        """Go there and return the answer; another status than `status` is a fault."""
        answer = self.page.goto(url)
        if answer.status != status:
            self._note(f"{url} answered {answer.status}, not {status}")
        return answer

    def resize(self, width, height=900):
        self.page.set_viewport_size({"width": width, "height": height})

    def too_wide(self):
        """[] or a list with the sentence of what scrolls sideways."""
        found = self.page.evaluate(TOO_WIDE)
        return [found] if found else []

    def _note(self, words):
        self.faults.append(f"{self.page.url}: {words}")

    def _on_console(self, message):
        # The browser says of a page that is itself a refusal (404, 409, 422) that it failed to load.
        of_the_page = message.text.startswith("Failed to load resource") and (
            message.location.get("url") == self.page.url
        )
        if message.type in ("error", "warning") and not of_the_page:
            self._note(f"console: {message.text}")

    def _on_failed(self, request):
        if request.failure != "net::ERR_ABORTED":  # a download stays on its page
            self._note(f"{request.method} {request.url} failed: {request.failure}")

    def _on_request(self, request):
        if not request.url.startswith((self.home, "data:", "blob:")):
            self._note(f"asked another host: {request.url}")

    def _on_response(self, response):
        if response.status >= 400 and response.request.resource_type != "document":
            self._note(f"{response.url} answered {response.status}")
