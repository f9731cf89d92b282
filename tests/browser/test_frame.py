"""The frame of every page in a real browser, under the strict policy: nav, focus, what is said after a swap.

The pages are the real base.html and the real static files; only the answers to htmx are made here.
"""

import gzip
import mimetypes
from pathlib import Path

import pytest
from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.contrib.staticfiles import finders
from django.template import engines
from django.test import RequestFactory

from tests.browser.axe import complaints

HOME = "http://studio.test/"
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
ROOMS = ["Today", "Diary", "Families", "Bench", "Money", "Unit"]
BENCH = """{% extends "base.html" %}{% block title %}Bench{% endblock %}{% block heading %}Bench{% endblock %}
{% block content %}<section id="rack" aria-labelledby="h"><h2 id="h">Rack</h2>
<form action="/weigh/" method="post" hx-post="/weigh/" hx-target="#rack"><input name="g" aria-label="Mass" id="g">
<button class="button" id="weigh">Weigh</button></form></section>{% endblock %}"""
WEIGHED = '<p data-said="Wren, left hand: 420 g.">420 g</p>'
REFUSED = '<div class="refused" role="alert" tabindex="-1"><p>The rack is full.</p></div>'


def frame(text, **context):
    request = RequestFactory().get("/bench/")
    request.user = AnonymousUser()
    nav = [{"label": room, "url": f"/{room}/", "current": room == "Bench"} for room in ROOMS]
    given = {"nav": nav, "unit": {"name": "Marrow & Daughter Casts"}} | context
    template = engines["django"].from_string(text)
    return template.render(given, request)


@pytest.fixture
def open_page(chromium):
    """`open_page(width, answers)`: the bench in a window of that width; answers: path -> (status, body)."""
    contexts = []

    def start(width=1280, answers=None, **window):
        context = chromium.new_context(viewport={"width": width, "height": 800}, **window)
        context.set_default_timeout(30_000)
        contexts.append(context)
        page = context.new_page()
        page.route("**/*", lambda route: answer(route, answers or {}))
        page.goto(HOME)
        return page

    yield start
    for context in contexts:
        context.close()


def answer(route, answers):
    path = route.request.url.removeprefix(HOME.rstrip("/"))
    if path == "/":
        headers = {"Content-Security-Policy": POLICY}
        route.fulfill(body=frame(BENCH), content_type="text/html; charset=utf-8", headers=headers)
    elif path in answers:
        status, body = answers[path]
        route.fulfill(status=status, body=body, content_type="text/html; charset=utf-8")
    elif path.startswith(f"/{settings.STATIC_URL.strip('/')}/") and (
        found := finders.find(path.split("/", 2)[2])
    ):
        route.fulfill(path=found, content_type=mimetypes.guess_type(found)[0])
    else:
        route.abort()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [320, 360, 820, 1280])
def test_the_frame_fits_and_the_engine_finds_nothing(open_page, width, scheme):
    page = open_page(width, color_scheme=scheme)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert complaints(page) == []
    heights = page.eval_on_selector_all(
        ".nav__link", "all => all.map(e => e.getBoundingClientRect().height)"
    )
    assert len(heights) == len(ROOMS)
    assert min(heights) >= 44


def test_the_frame_is_readable_at_twice_the_text_size(open_page):
    page = open_page(640, bypass_csp=True)
    page.add_style_tag(content="html { font-size: 200%; }")
    assert page.locator("h1").evaluate("e => parseFloat(getComputedStyle(e).fontSize)") >= 56
    assert page.evaluate("document.documentElement.scrollWidth") <= 640


def test_the_keyboard_reaches_the_page_past_the_nav(open_page):
    page = open_page()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    assert page.locator(".skip").bounding_box()["y"] >= 0
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "g"


def test_the_focus_is_seen(open_page):
    page = open_page()
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    outline = page.evaluate("getComputedStyle(document.activeElement).outlineWidth")
    assert outline == "3px"


def test_the_room_one_is_in_is_marked(open_page):
    assert open_page().locator('[aria-current="page"]').inner_text() == "Bench"


def test_a_swap_is_said_and_the_keyboard_stays_in_it(open_page):
    page = open_page(answers={"/weigh/": (200, WEIGHED)})
    page.locator("#weigh").press("Enter")
    page.locator("#rack p").wait_for()
    page.wait_for_function("document.getElementById('said').textContent")
    assert page.locator("#said").text_content() == "Wren, left hand: 420 g."
    assert page.evaluate("document.activeElement.id") == "rack"


@pytest.mark.parametrize("status", [409, 422])
def test_a_refusal_is_shown_and_takes_the_focus(open_page, status):
    page = open_page(answers={"/weigh/": (status, REFUSED)})
    page.locator("#weigh").press("Enter")
    page.locator("#rack .refused").wait_for()
    page.wait_for_function("document.activeElement.className === 'refused'")


@pytest.mark.parametrize(
    ("answers", "words"),
    [
        ({"/weigh/": (500, "<p>broken</p>")}, "Something went wrong at our end."),
        ({"/weigh/": (403, "<p>no</p>")}, "not done"),
        ({}, "could not be reached"),
    ],
)
def test_a_lost_press_is_told_to_everybody_and_keeps_what_was_typed(open_page, answers, words):
    page = open_page(answers=answers)
    page.locator("#g").fill("420")
    page.locator("#weigh").press("Enter")
    said = page.locator("#said.said--wrong")
    said.wait_for()
    assert words in said.inner_text()
    assert said.bounding_box()["height"] > 24
    assert page.locator("#g").input_value() == "420"


def test_the_policy_drops_nothing_that_the_frame_needs(open_page, chromium):
    context = chromium.new_context()
    page = context.new_page()
    told = []
    page.on("console", lambda message: told.append(message.text))
    page.route("**/*", lambda route: answer(route, {}))
    page.goto(HOME)
    page.wait_for_function("window.htmx")
    assert page.evaluate("window.htmx.config.allowEval") is False
    assert page.evaluate("window.htmx.config.historyCacheSize") == 0
    assert told == []
    context.close()


def test_a_person_in_forced_colours_still_sees_the_state(open_page):
    page = open_page(forced_colors="active")
    border = page.eval_on_selector(
        ".nav__link[aria-current]", "e => getComputedStyle(e).borderBottomWidth"
    )
    assert border == "3px"


def test_the_first_load_is_under_100_kb(open_page):
    """Compressed as whitenoise does; the page, its four sheets, htmx, one module and the icon."""
    page = open_page()
    names = page.eval_on_selector_all(
        "link[rel=stylesheet], link[rel=icon], script[src]",
        "all => all.map(e => new URL(e.href || e.src).pathname)",
    )
    assert len(names) == 7
    files = [Path(finders.find(name.split("/", 2)[2])).read_bytes() for name in names]
    sizes = [len(gzip.compress(body)) for body in (page.content().encode(), *files)]
    assert sum(sizes) < 100_000, sizes
