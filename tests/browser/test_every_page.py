"""Every address of the site in a real browser, on a phone, a tablet and a desk.

Each page must fit, be sound HTML with a title and one heading, load what it names from this site
alone, write nothing to the console, and leave the accessibility engine without a complaint.
"""

import pytest
from django.test import Client
from django.urls import reverse

from studio.stages import Stage
from tests import makers
from tests.addresses import a_studio, addresses, look
from tests.browser.axe import complaints
from tests.parts.markup import faults

PHONE, TABLET, DESK = 360, 820, 1280
OFFICES = "bookings:send_enquiry"
# The sitting asks one question a screen; the address is the same.
SCREENS = ("cautions", "make", "keep", "show", "summary")
# The owner has the most pages: so many tests share them, on both cores.
SHARES = 4


@pytest.fixture
def studio(unit):
    return a_studio(unit)


def look_over(window, url, status=200, widths=(PHONE, TABLET, DESK), dark=True):
    """Everything that is wrong with a page, one line each."""
    window.page.emulate_media(color_scheme="light")
    window.resize(widths[0])
    answer = window.open(url, status)
    found = [*faults(answer.text()), *said_of_itself(window.page)]
    for width in widths:
        window.resize(width)
        found += [f"at {width} px: {fault}" for fault in window.too_wide()]
        found += [f"at {width} px: {fault}" for fault in complaints(window.page)]
    if dark:
        window.resize(PHONE)
        window.page.emulate_media(color_scheme="dark")
        found += [f"in the dark: {fault}" for fault in complaints(window.page)]
    return [f"{url}: {fault}" for fault in found]


def glance_over(window, url):
    """As `look_over`, on a phone in the light: for a page whose parts were looked over elsewhere."""
    return look_over(window, url, widths=(PHONE,), dark=False)


def said_of_itself(page):
    found = [] if page.title().split("·")[0].strip() else ["has no title of its own"]
    headings = [heading.strip() for heading in page.locator("h1").all_inner_texts()]
    return found if len(headings) == 1 and headings[0] else [*found, f"its h1: {headings}"]


def is_page(client, url):
    """Whether a look at the address shows HTML; PDFs, photographs, mere presses and noes do not."""
    response = look(client, url, follow=True)
    assert response.status_code in (200, 403, 405, 409), f"{url} answered {response.status_code}"
    return response.status_code == 200 and response["Content-Type"].startswith("text/html")


def pages_of(client, studio, share=slice(None)):
    """The addresses of staff in that share which show a page to whom `client` is logged in as."""
    urls = [each.url for each in addresses(studio) if not each.name.startswith("family_page:")]
    sitting = reverse("bookings:sitting", args=[studio.sitting.pk])
    limb = studio.sitting.prints.first().pk
    urls += [f"{sitting}?at={screen}" for screen in (*SCREENS, limb)]
    urls += [f"{reverse('studio:families')}?q=nobody", f"{reverse('bookings:diary')}?week=2026-W53"]
    return [url for url in urls[share] if is_page(client, url)]


@pytest.mark.parametrize("share", range(SHARES))
def test_the_owner_finds_no_page_at_fault(open_window, studio, owner, share):
    window = open_window(owner)
    urls = pages_of(owner, studio, slice(share, None, SHARES))
    assert len(urls) > 15
    assert [fault for url in urls for fault in look_over(window, url)] == []


def test_a_helper_finds_no_page_at_fault(open_window, studio, helper):
    window = open_window(helper)
    urls = pages_of(helper, studio)
    assert len(urls) > 35
    assert [fault for url in urls for fault in glance_over(window, url)] == []


def test_the_office_finds_its_page_without_fault(open_window, office):
    window = open_window(office)
    assert look_over(window, reverse(OFFICES)) == []


def test_a_family_finds_no_page_at_fault_at_any_stage(open_window, studio):
    window = open_window()
    assert set(studio.tokens) == set(Stage)
    urls = [reverse("family_page:arrive", args=[token]) for token in studio.tokens.values()]
    assert [fault for url in urls for fault in look_over(window, url)] == []


def test_a_studio_without_a_row_has_no_page_at_fault(open_window, unit, owner):
    """The empty states: every page that needs no row."""
    window = open_window(owner)
    urls = [each.url for each in bare_addresses() if is_page(owner, each.url)]
    assert len(urls) > 12
    assert [fault for url in urls for fault in glance_over(window, url)] == []


def bare_addresses():
    return [each for each in addresses() if not each.name.startswith("family_page:")]


def test_whoever_is_not_logged_in_finds_no_page_at_fault(open_window, unit):
    window = open_window()
    found = look_over(window, reverse("studio:log_in"))
    found += look_over(window, "/follow/no-such-link/", status=404)
    assert found == []


def test_the_first_run_has_no_fault(open_window, db):
    window = open_window()
    assert look_over(window, reverse("studio:first_run")) == []
    assert window.page.locator("h1").inner_text() == "Set up your studio"


# --- what comes back instead of what was wanted -----------------------------------------------------------------------


def look_over_answer(window, response, url):
    """What is wrong with an answer to a press, opened where the press would have led."""
    headers = {name: value for name, value in response.items() if name != "Content-Length"}
    body = response.content
    window.page.route(url, lambda route: route.fulfill(headers=headers, body=body), times=1)
    return glance_over(window, url)


def test_every_form_sent_empty_comes_back_without_fault(open_window, studio, owner):
    """422 of a form, 409 of a press without its key, 404 of a press that names nothing."""
    window = open_window(owner)
    found, statuses = [], set()
    for each in addresses(studio):
        if each.name == "studio:log_out" or each.name.startswith("family_page:"):
            continue
        response = owner.post(each.url, {"nothing": ""})
        if response.get("Content-Type") == "application/json":  # to the tablet, which shows no page
            assert response.status_code in (400, 404, 405, 409, 422), each.url
            continue
        assert response.status_code in (302, 403, 404, 405, 409, 422), each.url
        if response.status_code in (404, 409, 422):
            statuses.add(response.status_code)
            found += look_over_answer(window, response, f"{window.home}{each.url}")
    assert found == []
    assert statuses == {404, 409, 422}


@pytest.mark.parametrize(
    ("name", "status"), [("unit", 403), ("nowhere/", 404), ("jobs/0000-0000/", 404)]
)
def test_the_pages_of_the_noes_have_no_fault(open_window, helper, name, status):
    window = open_window(helper)
    url = reverse("studio:unit") if name == "unit" else f"/{name}"
    assert look_over(window, url, status=status) == []


def test_a_page_that_was_open_too_long_says_so_without_fault(open_window, owner):
    window = open_window(owner)
    strict = Client(enforce_csrf_checks=True)
    strict.cookies = owner.cookies
    response = strict.post(reverse("studio:add_family"), {})
    assert response.status_code == 403
    url = f"{window.home}{reverse('studio:add_family')}"
    assert look_over_answer(window, response, url) == []
    assert window.page.locator("h1").inner_text() == "This page was open too long"


def test_both_versions_of_an_edited_family_are_shown_without_fault(open_window, unit, owner):
    family = makers.a_family(unit)
    window = open_window(owner)
    sent = {"version": 0, "name": "Okafor-Lindqvist", "contact_name": "Sam", "phone": "1"}
    response = owner.post(reverse("studio:edit_family", args=[family.pk]), sent)
    assert response.status_code == 409
    url = f"{window.home}{reverse('studio:edit_family', args=[family.pk])}"
    assert look_over_answer(window, response, url) == []
    assert window.page.get_by_text("Okafor-Lindqvist").count() >= 1


def test_the_look_over_sees_what_is_wrong(open_window, owner):
    """The control: a page with one of each fault is not passed."""
    window = open_window(owner)
    page = "<!doctype html><html><head></head><body><h1></h1><img src='/none.png'>" + "x" * 400
    window.page.route("**/diary/", lambda r: r.fulfill(body=page, content_type="text/html"))
    found = " ".join(look_over(window, f"{window.home}/diary/"))
    for fault in (
        "has no title",
        "its h1",
        "px too wide",
        "image-alt",
        "html-has-lang",
        "no words",
    ):
        assert fault in found
    assert any("none.png answered 404" in fault for fault in window.faults)
    window.faults.clear()
