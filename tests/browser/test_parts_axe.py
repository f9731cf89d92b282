"""Every example of every part in a real browser: the accessibility engine, and a phone's width."""

from pathlib import Path

import pytest
from django.conf import settings
from django.template.loader import render_to_string
from django.test import RequestFactory

from tests.browser.axe import complaints
from tests.parts.examples import AROUND, EXAMPLES

CSS = Path(settings.BASE_DIR) / "static" / "css"
STYLE = "".join(
    (CSS / f"{name}.css").read_text(encoding="utf-8")
    for name in ("tokens", "base", "parts", "pages")
)
PAGE = """<!doctype html><html lang="en-GB"><head><title>Part</title>
<meta name="viewport" content="width=device-width, initial-scale=1"><style>{style}</style></head>
<body><main class="page"><h1>Part</h1><div class="sheet sheet--words"><h2>Part</h2>{part}</div></main></body></html>"""


@pytest.fixture(scope="module", params=["light", "dark"])
def phone(chromium, request):
    context = chromium.new_context(
        viewport={"width": 320, "height": 640}, color_scheme=request.param
    )
    yield context.new_page()
    context.close()


def show(page, part, given):
    request = RequestFactory().get("/families/")
    shown = AROUND.get(part, "{}").format(render_to_string(f"parts/{part}", given, request))
    page.set_content(PAGE.format(style=STYLE, part=shown))


@pytest.mark.parametrize("part", sorted(EXAMPLES))
def test_the_engine_finds_nothing_and_the_page_does_not_scroll_sideways(phone, part):
    for name, given in EXAMPLES[part].items():
        show(phone, part, given)
        assert complaints(phone) == [], name
        assert phone.evaluate("document.documentElement.scrollWidth") <= 320, name


def test_the_engine_can_complain(phone):
    phone.set_content(PAGE.format(style=STYLE, part='<p class="field__label"><input></p>'))
    assert any(complaint.startswith("label:") for complaint in complaints(phone))


@pytest.mark.parametrize("part", ["button.html", "form.html", "press.html", "pager.html"])
def test_what_a_thumb_presses_is_large_enough_on_the_tablet(phone, part):
    for name, given in EXAMPLES[part].items():
        show(phone, part, given)
        phone.evaluate("document.body.classList.add('surface-tablet')")
        low = phone.eval_on_selector_all(
            ".button, .choice, .field__input > :is(input, select, textarea)",
            "all => all.filter(e => e.getBoundingClientRect().height < 48).map(e => e.outerHTML)",
        )
        assert low == [], name
