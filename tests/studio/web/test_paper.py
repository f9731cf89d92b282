"""Paper: nothing foreign is opened, the same facts give the same bytes, archives are one document."""

import base64
import io
import os
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pikepdf
import pytest
from django.template import engines
from weasyprint import Attachment

from studio.web import paper
from tests import makers

SENT = datetime(2026, 12, 1, tzinfo=UTC)

FX = b"""<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#" xmlns:fx="urn:example:fx#"
 xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/">
<rdf:Description rdf:about=""><fx:Version>1.0</fx:Version></rdf:Description>
<rdf:Description rdf:about=""><pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource"/>
</rdf:Bag></pdfaExtension:schemas></rdf:Description></rdf:RDF>"""


@pytest.fixture
def page(tmp_path, settings):
    """`page(body)` is the name of a template of paper with that body."""
    settings.TEMPLATES = [
        {**settings.TEMPLATES[0], "DIRS": [tmp_path, *settings.TEMPLATES[0]["DIRS"]]}
    ]

    def write(body):
        (tmp_path / "page.html").write_text(
            '{% extends "paper/base_paper.html" %}{% block title %}A page{% endblock %}'
            f"{{% block content %}}{body}{{% endblock %}}"
        )
        engines["django"].engine.template_loaders[0].reset()
        return "page.html"

    return write


def opened(pdf):
    return pikepdf.open(io.BytesIO(pdf))


@pytest.mark.parametrize(
    "address",
    [
        "file:///etc/passwd",
        "../studio/settings.py",
        "css/../../studio/settings.py",
        "css/%2e%2e/%2e%2e/studio/settings.py",
        "http://127.0.0.1/x.png",
        "https://example.com/x.png",
        "ftp://example.com/x.png",
        "//example.com/x.png",
        "file://example.com/css/tokens.css",
    ],
)
def test_nothing_but_our_own_files_is_opened(page, address):
    with pytest.raises(paper.PaperBroken, match="Error fetching") as refused:
        paper.pdf(page(f'<img src="{address}" alt="">'), {})
    assert isinstance(refused.value.__cause__.__cause__, ValueError), "refused, not tried"


def test_our_own_files_and_pictures_put_in_as_data_are_drawn(page):
    dot = base64.b64encode(makers.a_jpeg(8, 8)).decode()
    body = f'<img src="data:image/jpeg;base64,{dot}" alt=""><img src="icons/favicon.svg" alt="">'
    with opened(paper.pdf(page(body), {})) as pdf:
        assert len(pdf.pages) == 1


def test_a_sheet_without_its_style_is_not_printed(page):
    with pytest.raises(paper.PaperBroken, match="Error fetching"):
        paper.pdf(page('<link rel="stylesheet" href="css/lost.css">'), {})


@pytest.mark.parametrize("variant", ["pdf/ua-1", "pdf/a-3a"])
def test_the_same_facts_give_the_same_bytes_and_others_do_not(page, variant):
    name = page("<p>{{ words }}</p>")
    one, same = (paper.pdf(name, {"words": "one"}, variant=variant) for _ in range(2))
    other = paper.pdf(name, {"words": "other"}, variant=variant)
    assert one == same
    assert one != other
    assert opened(one).trailer.ID[0] != opened(other).trailer.ID[0]


def test_what_is_read_is_tagged_and_says_so(page):
    with opened(paper.pdf(page("<p>Words</p>"), {})) as pdf:
        assert pdf.Root.MarkInfo.Marked
        assert pdf.Root.ViewerPreferences.DisplayDocTitle
        assert str(pdf.Root.Lang) == "en-GB"
        assert b'pdfuaid:part="1"' in pdf.Root.Metadata.read_bytes()


def test_an_archive_carries_one_description_and_each_attachment_once(page):
    attached = Attachment(
        string="<a/>",
        name="data.xml",
        description="the same as data",
        relationship="Alternative",
        created=SENT,
        modified=SENT,
    )
    written = paper.pdf(
        page("<p>Words</p>"), {}, variant="pdf/a-3a", attachments=[attached], xmp=[FX]
    )
    with opened(written) as pdf:
        said = pdf.Root.Metadata.read_bytes().decode()
        assert len(pdf.Root.AF) == 1
        assert str(pdf.Root.AF[0].AFRelationship) == "/Alternative"
        assert pdf.Root.AF[0].EF.F.read_bytes() == b"<a/>"
        assert len(pdf.Root.OutputIntents) == 1
    assert said.count("<rdf:RDF") == said.count("<pdfaExtension:schemas>") == 1
    assert said.count('rdf:parseType="Resource"') == 3  # PDF/UA's schema with its property, FX's
    assert "<pdfuaid:part>1</pdfuaid:part>" in said
    assert "<fx:Version>1.0</fx:Version>" in said
    assert 'pdfaid:part="3" pdfaid:conformance="A"' in said


def test_a_finisher_has_the_last_word(page):
    def mark(_document, pdf):
        pdf.info["Subject"] = "(checked)"

    with opened(paper.pdf(page("<p>Words</p>"), {}, finisher=mark)) as pdf:
        assert str(pdf.docinfo["/Subject"]) == "checked"


ENDING = """
import sys, threading, django
django.setup()
from studio.web import paper
sys.held = paper._of_thread  # somebody holds it to the very end, as a test run does
facts = {"paper": {"currency": "GBP", "amount_minor": 1, "seller": {}}}
thread = threading.Thread(target=lambda: paper.pdf("paper/receipt.html", facts))
thread.start()
thread.join()
del thread
gc = __import__("gc").collect()
assert len(paper._all_fonts) == 0, "the fonts of a thread stay behind it"
paper.pdf("paper/receipt.html", facts)
print(paper._of_thread.fonts.read._folder)
"""


def test_fonts_go_with_their_thread_and_before_the_interpreter():
    said = subprocess.run(
        [sys.executable, "-c", ENDING],
        env=os.environ | {"DEBUG": "1", "DJANGO_SETTINGS_MODULE": "studio.settings"},
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    assert said.stderr == ""
    assert not Path(said.stdout.strip()).exists()
