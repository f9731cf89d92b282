"""Paper: a template of templates/paper/ made into a document that WeasyPrint can write.

A page of A4 takes about 0.2 s once WeasyPrint is loaded: many pages are the worker's job.
"""

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote, urlsplit

from django.conf import settings
from django.template.loader import render_to_string

if TYPE_CHECKING:
    from weasyprint import HTML


def document(template: str, context: dict[str, Any]) -> "HTML":
    """The filled template, ready for `.write_pdf()`.

    It can open files of our own static folder ("css/paper.css") and data: addresses, nothing else:
    a photo is put in as data, so no path or address that a person typed is ever followed.
    """
    from weasyprint import HTML  # noqa: PLC0415  loading it takes a second, paper is seldom

    return HTML(
        string=render_to_string(template, context),
        base_url=f"{_static().as_uri()}/",
        url_fetcher=_own_files_only(),
    )


def _static() -> Path:
    return (Path(settings.BASE_DIR) / "static").resolve()


@cache
def _own_files_only() -> Any:
    from weasyprint.urls import URLFetcher  # noqa: PLC0415  see above

    class OwnFilesOnly(URLFetcher):  # type: ignore[misc]  # WeasyPrint is untyped
        def fetch(self, url: str, headers: Any = None) -> Any:
            parts = urlsplit(url)
            path = Path(unquote(parts.path)).resolve()
            if parts.scheme == "file" and (parts.netloc or not path.is_relative_to(_static())):
                raise ValueError(f"Paper opens only our own static files, not {url}")
            return super().fetch(url, headers)

    return OwnFilesOnly(allowed_protocols=("file", "data"), allow_redirects=False)
