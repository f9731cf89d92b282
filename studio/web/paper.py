"""PDF from templates in templates/paper/, reproducible: the same context gives the same bytes.

A page of A4 takes about 0.2 s once WeasyPrint is loaded: leave many pages to the worker.
"""

import atexit
import hashlib
import xml.etree.ElementTree as ET
from collections.abc import Callable, Sequence
from functools import cache
from io import BytesIO
from pathlib import Path
from threading import local
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote, urlsplit
from weakref import WeakSet

from django.conf import settings
from django.template.loader import render_to_string

if TYPE_CHECKING:
    from weasyprint import HTML


Finisher = Callable[[Any, Any], None]

_RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"

_EXTENSION = "http://www.aiim.org/pdfa/ns/extension/"

# PDF/A requires a description of every metadata schema that it does not define, such as that of PDF/UA.
_ALSO_PDF_UA = b"""
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"
  xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/"
  xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/"
  xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#"
  xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#">
<rdf:Description rdf:about=""><pdfuaid:part>1</pdfuaid:part></rdf:Description>
<rdf:Description rdf:about=""><pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">
<pdfaSchema:schema>PDF/UA identification schema</pdfaSchema:schema>
<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>
<pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix>
<pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType="Resource">
<pdfaProperty:name>part</pdfaProperty:name>
<pdfaProperty:valueType>Integer</pdfaProperty:valueType>
<pdfaProperty:category>internal</pdfaProperty:category>
<pdfaProperty:description>Part of the PDF/UA standard</pdfaProperty:description>
</rdf:li></rdf:Seq></pdfaSchema:property>
</rdf:li></rdf:Bag></pdfaExtension:schemas></rdf:Description>
</rdf:RDF>"""

_of_thread = local()

_all_fonts: "WeakSet[_Fonts]" = WeakSet()


class PaperBroken(Exception):
    """A template refers to a file that does not exist or is not in our static folder: a programming error."""


def pdf(
    template: str,
    context: dict[str, Any],
    *,
    variant: str = "pdf/ua-1",
    attachments: Sequence[Any] = (),
    xmp: Sequence[bytes] = (),
    finisher: Finisher | None = None,
) -> bytes:
    """Render a template as a tagged PDF.

    `variant` is "pdf/ua-1" for printing and reading, "pdf/a-3a" for archiving: the latter is marked as PDF/UA-1 too, and
    carries `attachments` (weasyprint.Attachment) and `xmp` (whole `<rdf:RDF>` elements, merged into the document's).
    `finisher(document, pydyf_pdf)` runs last. No date is added: a template sets `<meta name="dcterms.created">` if wanted.
    Raises PaperBroken if the template refers to a file outside of our static folder or to one that does not exist.
    """
    from weasyprint.urls import FatalURLFetchingError  # noqa: PLC0415 - loading it takes a second

    html = render_to_string(template, context)
    try:
        written: bytes = _html(html).write_pdf(
            pdf_variant=variant,
            pdf_tags=True,
            pdf_identifier=hashlib.sha256(html.encode()).digest()[:16],
            attachments=list(attachments) or None,
            finisher=_finish(variant, xmp, finisher),
            font_config=_fonts(),
            dpi=150,
        )
    # Not a subclass of Exception: it would pass every handler of the site.
    except FatalURLFetchingError as lost:
        raise PaperBroken(str(lost)) from lost
    return written


def _finish(variant: str, xmp: Sequence[bytes], finisher: Finisher | None) -> Finisher:
    """The changes to the PDF that WeasyPrint cannot make itself, then those of `finisher`."""

    def finish(document: Any, file: Any) -> None:
        if variant.startswith("pdf/a"):
            _merge_metadata(file, [_ALSO_PDF_UA, *xmp])
            _list_attachments_once(file)
        if finisher:
            finisher(document, file)

    return finish


def document(template: str, context: dict[str, Any]) -> "HTML":
    """Render a template to a WeasyPrint document, for `.write_pdf()` or `.render()`. Usually `pdf` is enough."""
    return _html(render_to_string(template, context))


def _html(filled: str) -> "HTML":
    """Create the document; it may load only files of our static folder ("css/paper.css") and data: URLs.

    Photographs are embedded as data, so that no path or URL that a person has typed is ever opened.
    """
    from weasyprint import HTML  # noqa: PLC0415 - see above

    return HTML(
        string=filled, base_url=f"{_static().as_uri()}/", url_fetcher=_static_files_fetcher()
    )


def _fonts() -> Any:
    """Font configuration of this thread, loaded once.

    A new one per document would leak (a quarter of a megabyte each), and Pango's cannot be shared between threads.
    """
    if not hasattr(_of_thread, "fonts"):
        _of_thread.fonts = _Fonts()
        _all_fonts.add(_of_thread.fonts)
    return _of_thread.fonts.read


class _Fonts:
    def __init__(self) -> None:
        from weasyprint.text.fonts import FontConfiguration  # noqa: PLC0415 - see above

        self.read: Any = FontConfiguration()


@atexit.register
def _release_fonts() -> None:
    """Release fonts before the interpreter shuts down: their cleanup calls a function that is gone later."""
    for fonts in list(_all_fonts):
        fonts.read = None


def _static() -> Path:
    return (Path(settings.BASE_DIR) / "static").resolve()


@cache
def _static_files_fetcher() -> Any:
    from weasyprint.urls import URLFetcher  # noqa: PLC0415 - see above

    class OwnFilesOnly(URLFetcher):  # type: ignore[misc]  # WeasyPrint is untyped
        def fetch(self, url: str, headers: Any = None) -> Any:
            parts = urlsplit(url)
            path = Path(unquote(parts.path)).resolve()
            if parts.scheme == "file" and (parts.netloc or not path.is_relative_to(_static())):
                raise ValueError(f"Paper opens only our own static files, not {url}")
            return super().fetch(url, headers)

    # Fail if a style sheet is missing, instead of printing without it.
    return OwnFilesOnly(
        allowed_protocols=("file", "data"), allow_redirects=False, fail_on_errors=True
    )


def _merge_metadata(file: Any, more: Sequence[bytes]) -> None:
    """Merge metadata into one `rdf:RDF` with one list of extension schemas; WeasyPrint would write a second one."""
    stream = file.objects[int(file.catalog["Metadata"].split()[0])]
    head, found, tail = _split_packet(stream.stream[0])
    rdf = _parse_rdf(found)
    schemas: ET.Element | None = None
    for text in more:
        for description in _parse_rdf(text):
            bag = description.find(f"{{{_EXTENSION}}}schemas/{{{_RDF}}}Bag")
            if bag is None:
                rdf.append(description)
            elif schemas is None:
                schemas = bag
                rdf.append(description)
            else:
                schemas.extend(bag)
    stream.stream = [head + ET.tostring(rdf) + tail]


def _parse_rdf(rdf: bytes) -> ET.Element:
    """Parse RDF of ours or of WeasyPrint, keeping its prefixes: PDF/A expects the usual ones."""
    for _, (prefix, address) in ET.iterparse(BytesIO(rdf), ["start-ns"]):  # noqa: S314
        ET.register_namespace(prefix, address)
    return ET.fromstring(rdf)  # noqa: S314


def _split_packet(packet: bytes) -> tuple[bytes, bytes, bytes]:
    start = packet.index(b"<rdf:RDF")
    end = packet.index(b"</rdf:RDF>") + len(b"</rdf:RDF>")
    return packet[:start], packet[start:end], packet[end:]


def _list_attachments_once(file: Any) -> None:
    """Remove the duplicates that WeasyPrint lists among the associated files."""
    if "AF" in file.catalog:
        file.catalog["AF"][:] = list(dict.fromkeys(file.catalog["AF"]))
