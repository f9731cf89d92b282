"""The desk by the keyboard alone, enlarged and in forced colours; and the whole trade without scripts."""

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from bookings.sittings.models import ClayPrint
from orders.family_page.private_links import make_link
from orders.quotes.models import Quote
from production.casts.models import Cast, Weighing
from studio.jobs.models import Job
from studio.stages import Stage
from studio.work.models import Work
from tests import makers
from tests.orders.family_page.following import a_link

pytestmark = pytest.mark.django_db(transaction=True)

# Whether whatever has the focus looks different from when it has not.
IS_SEEN = """() => {
  const here = document.activeElement;
  if (!here || here === document.body) return false;
  const style = getComputedStyle(here);
  return style.outlineStyle !== "none" || style.boxShadow !== "none";
}"""
NAME = "() => (document.activeElement.innerText || document.activeElement.name || '').trim()"


def tab_to(window, words, most=80):
    """Tab until the focus is on what is called `words`; every stop on the way must be seen."""
    for _ in range(most):
        window.page.keyboard.press("Tab")
        if window.page.evaluate("document.activeElement === document.body"):
            continue  # round the end of the page
        name = window.page.evaluate(NAME)
        assert window.page.evaluate(IS_SEEN), f"no visible focus on “{name}”"
        if words in name:
            return
    raise AssertionError(f"Tab never came to “{words}” on {window.page.url}")


def enter(window):
    with window.page.expect_navigation():
        window.page.keyboard.press("Enter")


def test_a_piece_is_weighed_by_the_keyboard_alone(open_window, unit, owner):
    job = makers.job_at(Stage.DRYING, unit, pieces=1)
    cast = Cast.objects.get(piece__job=job)
    window = open_window()
    window.open("/log-in/")
    tab_to(window, "username")
    window.page.keyboard.type(owner.user.email)
    tab_to(window, "password")
    window.page.keyboard.type(makers.PASSWORD)
    enter(window)

    window.page.keyboard.press("Tab")
    assert window.page.evaluate(NAME) == "Skip to the page"
    window.page.keyboard.press("Enter")
    assert window.page.evaluate("document.activeElement.id") == "main"
    tab_to(window, "reference")
    window.page.keyboard.type(job.display_reference.lower())
    enter(window)
    assert window.page.url.endswith(job.get_absolute_url())
    tab_to(window, "Weigh")
    enter(window)
    assert window.page.evaluate("document.activeElement.name") == "mass_g"
    window.page.keyboard.type("352")
    enter(window)
    assert Weighing.objects.get(cast=cast).mass_g == 352


def test_the_weeks_of_the_diary_are_turned_by_the_keyboard_without_losing_the_place(
    open_window, unit, owner
):
    window = open_window(owner)
    window.open("/diary/")
    tab_to(window, "Week after")
    heading = window.page.locator("#week-name")
    said = window.page.locator("#said")
    for _ in range(2):
        before = heading.inner_text()
        window.page.keyboard.press("Enter")
        expect(heading).not_to_have_text(before)
        expect(said).to_have_text(f"{heading.inner_text()}: brought up to date.")
        assert window.page.evaluate(NAME) == "Week after"
        assert window.page.evaluate(IS_SEEN)


def test_work_that_goes_on_is_told_once_and_leaves_the_focus_alone(open_window, unit, owner):
    makers.job_at(Stage.DRYING, unit)
    where = owner.post(reverse("production:plan_anew"), {"key": uuid.uuid4()})["Location"]
    window = open_window(owner)
    window.open(where)
    tab_to(window, "Look again")
    window.page.evaluate(
        """() => {
          const said = document.getElementById("said");
          window.told = [];
          new MutationObserver(() => window.told.push(said.textContent)).observe(said, { childList: true });
        }"""
    )
    for _ in range(3):  # it asks again by itself
        with window.page.expect_response(f"**{where}"):
            pass
    assert window.page.evaluate(NAME) == "Look again"
    assert window.page.evaluate("window.told") == ["Waiting its turn"]

    unit.works.update(
        state=Work.State.DONE,
        words="The plan is made.",
        url="/bench/plan/",
        finished_at=timezone.now(),
    )
    expect(window.page.locator("#said")).to_have_text("The plan is made.")
    assert window.page.evaluate(NAME) == "Go on"
    assert window.page.evaluate(IS_SEEN)


def test_the_next_question_of_a_sitting_is_said_as_it_stands(open_window, unit, owner):
    job = makers.job_at(Stage.BOOKED, unit)
    window = open_window(owner)
    window.open(reverse("bookings:sitting", args=[job.sittings.get().pk]))
    tab_to(window, "All this is so")
    window.page.keyboard.press("Enter")
    question = "May we take the prints and make the casts?"
    expect(window.page.locator("h1")).to_have_text(question)
    expect(window.page.locator("#said")).to_have_text(question)


def test_a_search_among_the_families_says_how_many_it_found(open_window, unit, owner):
    makers.a_family(unit, name="Marchetti")
    window = open_window(owner)
    window.open("/families/")
    tab_to(window, "q")
    window.page.keyboard.type("Marchetti")
    window.page.keyboard.press("Enter")
    expect(window.page.locator("#said")).to_have_text("1 family")


@pytest.mark.parametrize("address", ["/", "/bench/", "/diary/", "/money/"])
def test_a_page_twice_as_large_or_in_forced_colours_loses_nothing(
    open_window, unit, owner, address
):
    makers.job_at(Stage.DRYING, unit)
    window = open_window(owner, width=1280)
    window.open(address)
    words = window.page.locator("main").inner_text()
    window.resize(640, 450)  # what 200 % leaves of 1280 by 900
    assert window.too_wide() == []
    assert set(words.split()) <= set(window.page.locator("main").inner_text().split())
    window.page.emulate_media(forced_colors="active")
    assert set(words.split()) <= set(window.page.locator("main").inner_text().split())
    assert window.page.locator("[aria-current=page]").first.is_visible()


# Words that the edge broke in two: their boxes stand on more lines than they have spaces for.
BROKEN = """() => [...document.querySelectorAll(".stage-strip__label, .bill dt, .facts dd")]
  .filter((each) => {
    const all = document.createRange();
    all.selectNodeContents(each);
    const lines = new Set([...all.getClientRects()].map((box) => Math.round(box.top)));
    return lines.size > each.innerText.trim().split(/\\s+/).length;
  })
  .map((each) => each.innerText)"""


def test_letters_twice_as_large_break_no_word_of_a_family_on_a_phone(open_window, unit):
    job = makers.job_at(Stage.FRAMING, unit)
    _, token = a_link(job)
    window = open_window(width=360, height=780, bypass_csp=True)
    window.open(f"/follow/{token}/")
    window.page.add_style_tag(content="html { font-size: 200% }")
    assert window.page.evaluate(BROKEN) == []
    assert window.too_wide() == []


def test_a_sitting_is_booked_and_logged_without_a_script(open_window, unit, owner):
    makers.prices(unit)
    family = makers.a_family(unit)
    window = open_window(owner, width=820, java_script_enabled=False)
    window.open(family.get_absolute_url())
    window.page.get_by_role("link", name="Book a sitting").click()
    window.page.get_by_label("left hand").first.check()
    day = timezone.localdate() + timedelta(days=1)
    window.page.get_by_label("Day", exact=True).fill(day.isoformat())
    window.page.get_by_label("Time").fill("10:30")
    for _ in range(2):  # once to see the ages of that day, once to confirm
        window.page.locator("main form button[type=submit]").last.click()
    job = Job.objects.get()
    window.open(f"/sittings/{job.sittings.get().pk}/?at={ClayPrint.objects.get().pk}")
    window.page.get_by_role("button", name="Taken").click()
    assert ClayPrint.objects.get().outcome == "taken"


def test_one_logs_in_and_takes_a_payment_without_a_script(open_window, unit, owner):
    job = makers.job_at(Stage.READY, unit, pieces=1)
    window = open_window(width=360, java_script_enabled=False)
    window.open("/log-in/")
    window.page.get_by_label("E-mail").fill(owner.user.email)
    window.page.get_by_label("Password").fill(makers.PASSWORD)
    window.page.get_by_role("button", name="Log in", exact=True).click()
    window.page.wait_for_url(f"{window.home}/")
    window.open(f"/jobs/{job.display_reference}/order/")
    window.page.get_by_label("card", exact=True).check()
    window.page.get_by_role("button", name="Write down this payment").click()
    window.page.get_by_role("button", name="Hand it over").click()
    job.refresh_from_db()
    assert job.stage == Stage.HANDED_OVER


def test_a_family_orders_by_the_keyboard_alone(open_window, unit):
    job = makers.job_at(Stage.BOOKED, unit, pieces=1)
    _, token = make_link(job, by=makers.owner_of(unit), at=timezone.now())
    window = open_window(width=360)
    window.open(f"/follow/{token}/")
    tab_to(window, "Order and agree to pay £125.00")
    enter(window)
    quote = Quote.objects.get()
    assert (quote.by, quote.total_minor) == (None, 12500)
    assert window.page.get_by_text("What you agreed to, to keep").is_visible()
    assert window.faults == []
