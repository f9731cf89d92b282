"""Photographs Today, the weekly sheet and a family's page of a demo that lives only for that long.

Run by bin/pictures from the root of the project.
"""

import io
import os
import re
import secrets
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
FOLDER = Path(__file__).parent
MOST_BYTES = 200_000
COLOURS = 128
PATIENCE_S = 60


def main() -> None:
    with tempfile.TemporaryDirectory() as scratch, demo(Path(scratch)) as (address, welcome):
        chromium = os.environ.get("CHROMIUM") or shutil.which("chromium")
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
            for name, picture in (
                ("family-page", family_page(browser, welcome)),
                *desk(browser, address, welcome, Path(scratch)),
            ):
                keep(name, picture)
            browser.close()


@contextmanager
def demo(scratch: Path) -> Iterator[tuple[str, str]]:
    """The address of a demo that is running, and what it says on starting: log-ins and a link."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    address = f"http://127.0.0.1:{port}"
    environment = os.environ | {
        "SECRET_KEY": secrets.token_urlsafe(64),
        "DEBUG": "false",
        "CASTSTEAD_HTTPS": "false",
        "ALLOWED_HOSTS": "127.0.0.1",
        "DATABASE_URL": f"sqlite:///{scratch}/caststead.sqlite3",
        "CASTSTEAD_MEDIA": str(scratch / "media"),
        "CASTSTEAD_STATIC": str(scratch / "static"),
    }

    def manage(*words: str) -> str:
        command = [sys.executable, "manage.py", *words]
        done = subprocess.run(  # noqa: S603 - our own words
            command, cwd=ROOT, env=environment, check=True, stdout=subprocess.PIPE
        )
        return done.stdout.decode()

    manage("migrate", "--verbosity", "0")
    manage("collectstatic", "--noinput", "--verbosity", "0")
    manage("load_demo")
    welcome = manage("welcome", "--port", str(port))
    gunicorn = [sys.executable, "-m", "gunicorn", "studio.wsgi", "--bind", f"127.0.0.1:{port}"]
    server = subprocess.Popen(  # noqa: S603 - our own words
        [*gunicorn, "--no-control-socket", "--log-level", "warning"], cwd=ROOT, env=environment
    )
    try:
        wait_for(f"{address}/log-in/")
        yield address, welcome
    finally:
        server.terminate()
        server.wait()


def wait_for(url: str) -> None:
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        try:
            urllib.request.urlopen(url).close()  # noqa: S310 - our own server
        except urllib.error.URLError:
            time.sleep(0.2)
        else:
            return
    raise SystemExit(f"Nothing answered at {url}.")


def desk(
    browser: Browser, address: str, welcome: str, scratch: Path
) -> Iterator[tuple[str, bytes]]:
    """Today on the owner's screen, and the first page of this week's sheet."""
    context = browser.new_context(
        viewport={"width": 1280, "height": 1000}, locale="en-GB", base_url=address
    )
    page = context.new_page()
    page.goto("/log-in/")
    page.get_by_label("E-mail address").fill(said(welcome, r"(\S+@\S+) +the owner"))
    page.get_by_label("Password").fill(said(welcome, r"the password (\S+)"))
    page.get_by_role("button", name="Log in").click()
    page.wait_for_url(f"{address}/")
    yield "today", page.screenshot()
    page.goto("/bench/weeks/")
    sheet_url = page.locator("a[href$='sheet.pdf']").first.get_attribute("href")
    sheet = context.request.get(f"{address}{sheet_url}", timeout=120_000)
    pdf = scratch / "sheet.pdf"
    pdf.write_bytes(sheet.body())
    command = ["pdftoppm", "-png", "-r", "100", "-f", "1", "-singlefile", str(pdf)]
    subprocess.run([*command, str(scratch / "sheet")], check=True)  # noqa: S603 - our own words
    yield "weekly-sheet", (scratch / "sheet.png").read_bytes()
    context.close()


def family_page(browser: Browser, welcome: str) -> bytes:
    context = browser.new_context(
        viewport={"width": 360, "height": 780}, device_scale_factor=2, locale="en-GB"
    )
    page = context.new_page()
    page.goto(said(welcome, r"(\S+/follow/\S+)"))
    picture = page.screenshot()
    context.close()
    return picture


def said(welcome: str, pattern: str) -> str:
    """What the welcome names by the pattern's group."""
    found = re.search(pattern, welcome)
    if found is None:
        raise SystemExit(f"The welcome does not say {pattern}:\n{welcome}")
    return found[1]


def keep(name: str, picture: bytes) -> None:
    """In few colours, small enough for a page that people read on the way."""
    image = Image.open(io.BytesIO(picture)).convert("RGB")
    target = FOLDER / f"{name}.png"
    image.quantize(COLOURS, dither=Image.Dither.NONE).save(target, optimize=True)
    size = target.stat().st_size
    if size >= MOST_BYTES:
        raise SystemExit(f"{target.name} has {size} bytes, and at most {MOST_BYTES} are wanted.")
    sys.stdout.write(f"{target.relative_to(ROOT)}: {image.width} × {image.height}, {size} bytes\n")


if __name__ == "__main__":
    main()
