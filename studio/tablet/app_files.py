"""The static files of the tablet's app that its service worker caches, and their version."""

import json
from functools import cache
from hashlib import sha256
from pathlib import PurePosixPath
from typing import Any

from django.conf import settings
from django.contrib.staticfiles import finders
from django.contrib.staticfiles.storage import staticfiles_storage
from django.template.loader import get_template
from django.urls import reverse

WORKER = "js/sitting/sw.js"

PAGE = "studio/tablet/tablet.html"

FOLDERS = ("js/sitting/", "icons/")  # the fonts under vendor/ are for paper alone

SHEETS = ("css/tokens.css", "css/base.css", "css/parts.css", "css/pages.css")

KINDS = (".js", ".css", ".svg", ".png")


def shell() -> dict[str, Any]:
    """Return the addresses to cache, and a version that changes with the content of any of these files."""
    return _shell() if settings.DEBUG else _kept_shell()


def worker() -> str:
    """Return the text of the service worker, with the addresses that it caches."""
    return f"self.SHELL = {json.dumps(shell())};\n{_content(WORKER).decode()}"


def _shell() -> dict[str, Any]:
    digest = sha256(get_template(PAGE).template.source.encode())  # type: ignore[attr-defined]
    addresses = [reverse("studio:tablet"), reverse("studio:tablet_manifest")]
    for name in _names():
        digest.update(name.encode() + _content(name))
        # Modules name each other by their plain names; pages by those of their content.
        addresses += [staticfiles_storage.url(name), f"{settings.STATIC_URL}{name}"]
    return {
        "version": digest.hexdigest()[:16],
        "page": addresses[0],
        "files": list(dict.fromkeys(addresses)),
    }


_kept_shell = cache(_shell)


def _names() -> list[str]:
    """Names of the app's static files, without the service worker."""
    found = {
        PurePosixPath(path).as_posix()
        for finder in finders.get_finders()
        for path, _ in finder.list(["*.md"])
    }
    return sorted(
        name
        for name in found
        if name in SHEETS or (name.startswith(FOLDERS) and name.endswith(KINDS) and name != WORKER)
    )


def _content(name: str) -> bytes:
    with open(str(finders.find(name)), "rb") as file:  # noqa: PTH123 - a finder gives a str
        return file.read()
