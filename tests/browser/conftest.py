"""A real Chromium for the tests of this folder: the machine's own, never one that is downloaded."""

import os

import pytest
from django.conf import settings
from playwright.sync_api import sync_playwright

from tests.browser.windows import Window, launch_options


@pytest.fixture(scope="session")
def chromium():
    # Playwright keeps an event loop in this thread, and Django would refuse the database to it.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(**launch_options())
        yield browser
        browser.close()
    del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


@pytest.fixture
def open_window(chromium, live_server):
    """`open_window(client, width, ...)`: a window on the running site, as whom `client` is logged in.

    Without a client nobody is logged in. At the end of the test every window must have stayed
    without faults, but for those that the test took away from `window.faults` itself.
    """
    windows = []

    def start(client=None, width=1280, height=900, **options):
        context = chromium.new_context(
            viewport={"width": width, "height": height},
            base_url=live_server.url,
            locale="en-GB",
            timezone_id="Europe/London",
            **options,
        )
        if client:
            session = client.cookies[settings.SESSION_COOKIE_NAME].value
            context.add_cookies(
                [
                    {
                        "name": settings.SESSION_COOKIE_NAME,
                        "value": session,
                        "url": live_server.url,
                        "httpOnly": True,
                        "sameSite": "Lax",
                    }
                ]
            )
        window = Window(context, live_server.url)
        windows.append(window)
        return window

    yield start
    faults = [fault for window in windows for fault in window.faults]
    for window in windows:
        window.context.close()
    assert faults == []
