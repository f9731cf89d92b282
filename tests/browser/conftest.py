"""A real Chromium for the tests of this folder: the machine's own, never one that is downloaded."""

import os
import shutil

import pytest
from playwright.sync_api import sync_playwright


@pytest.fixture(scope="session")
def chromium():
    path = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("google-chrome")
    assert path, "These tests need Chromium: install the package chromium, or set CHROMIUM."
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=path, args=["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
        )
        yield browser
        browser.close()
