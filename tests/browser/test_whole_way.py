"""One job the whole way, by the people who do it: the owner at her desk, the owner on a visit with a
tablet, and a parent on a phone whose private link is opened anew at each stage.

Everything is clicked and typed; only the clock is moved by the test.
"""

import re
import subprocess
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone
from playwright.sync_api import Error

from production.casts.models import Cast
from studio.jobs.models import Job
from studio.stages import Stage
from studio.units import day, week_of
from tests import makers

pytestmark = pytest.mark.django_db(transaction=True)

LONDON = ZoneInfo("Europe/London")
# A stage's code, a surname, an address, a weight; and another family that is cast for meanwhile.
NEVER_ON_THE_FAMILYS_PAGE = (
    *("clay_rest", "handed_over", "called_off", "Okafor", "Quay Row", " g "),
    *("Quillfeather", "Peregrine"),
)


class Clock:
    """Begins on the coming Monday at nine: a browser throws away what ran out before its own time."""

    def __init__(self):
        today = datetime.now(LONDON)
        self.monday = today.date() + timedelta(days=7 - today.weekday())
        self.go_to(0, 9)

    def go_to(self, day, hour):
        """`day` 0 is the Monday on which the enquiry comes."""
        self.now = datetime.combine(self.on(day), time(hour), LONDON).astimezone(UTC)

    def on(self, day):
        return self.monday + timedelta(days=day)


@pytest.fixture
def clock(monkeypatch, settings):
    made = Clock()
    settings.SESSION_COOKIE_AGE = 60 * 60 * 24 * 60
    monkeypatch.setattr(timezone, "now", lambda: made.now)
    return made


@pytest.fixture
def log_in(open_window, owner):
    """Windows in which the owner has logged in by the form."""

    def start(**size):
        window = open_window(**size)
        window.open("/log-in/")
        window.page.get_by_label("E-mail").fill(owner.user.email)
        window.page.get_by_label("Password").fill(makers.PASSWORD)
        press(window, "Log in", exact=True)
        window.page.wait_for_url(f"{window.home}/")
        return window

    return start


def press(window, label, role="button", **how):
    """Clicks it; where it is not to be found, says what the page shows instead."""
    try:
        window.page.get_by_role(role, name=label, **how).first.click()
    except Error as missing:
        raise AssertionError(f"No {role} “{label}” on: {words_of(window)}") from missing


def follow(window, label, **how):
    press(window, label, role="link", **how)


def words_of(window):
    return window.page.locator("main").inner_text()


def paper_at(window, url, tmp_path):
    """Fetches a PDF that the browser would open, with the window's own cookies."""
    answer = window.context.request.get(url)
    assert answer.status == 200
    assert answer.headers["content-type"] == "application/pdf"
    path = tmp_path / "paper.pdf"
    path.write_bytes(answer.body())
    read = subprocess.run(
        ["pdftotext", "-layout", path, "-"],  # noqa: S607 - the machine's own
        capture_output=True,
        text=True,
        check=True,
    )
    return re.sub(r"[^\S\n]+", " ", read.stdout)


def enquiry_becomes_a_family(desk, born_on):
    desk.open("/enquiries/")
    follow(desk, "Write down an enquiry")
    desk.page.get_by_label("Name").fill("Tess Okafor")
    desk.page.get_by_label("Phone").fill("07700 900123")
    desk.page.get_by_label("E-mail").fill("tess@example.com")
    desk.page.get_by_label("How they found us").select_option("word")
    desk.page.locator("form.form button[type=submit]").click()
    follow(desk, "Turn into a family")
    desk.page.locator("#id_name").fill("Okafor")
    desk.page.locator("#id_address").fill("9 Quay Row")
    press(desk, "Add this family")
    follow(desk, "Add a child")
    desk.page.get_by_label("First name").fill("Ada")
    desk.page.get_by_label("Date of birth").fill(born_on.isoformat())
    press(desk, "Save")
    assert "15 weeks" in words_of(desk)


def a_sitting_is_booked(desk, born_on, sitting_on):
    follow(desk, "Book a sitting")
    for limb in ("left hand", "right hand", "left foot"):
        desk.page.get_by_label(limb, exact=False).first.check()
    desk.page.get_by_label("Day", exact=True).fill((born_on + timedelta(weeks=10)).isoformat())
    desk.page.get_by_label("Time").fill("10:30")
    desk.page.locator("main form button[type=submit]").last.click()
    assert "10 weeks" in words_of(desk)
    desk.page.get_by_label("Day", exact=True).fill(sitting_on.isoformat())
    desk.page.get_by_text("16 weeks").first.wait_for()
    desk.page.locator("main form button[type=submit]").last.click()
    if not Job.objects.filter(
        family__name="Okafor"
    ):  # the ages of the new day are shown once before it is confirmed
        desk.page.locator("main form button[type=submit]").last.click()
    desk.page.wait_for_url(re.compile(r"/jobs/|/families/|/diary/"))
    return Job.objects.get(family__name="Okafor")


def a_link_is_made(desk, job):
    desk.open(job.get_absolute_url())
    press(desk, "Make a link")
    address = desk.page.get_by_label("The family’s private address").input_value()
    assert address.startswith(f"{desk.home}/follow/")
    return address


def the_sitting_is_logged(tablet, tmp_path):
    picture = tmp_path / "hand.jpg"
    picture.write_bytes(makers.a_jpeg())
    tablet.open("/")
    follow(tablet, "Sitting of Okafor")
    follow(tablet, "All this is so: begin")
    for _ in ("make the casts", "keep photographs", "show them"):
        tablet.page.get_by_label("Who says yes").wait_for()
        asked = tablet.page.locator("h1").inner_text()
        press(tablet, "Yes")
        tablet.page.wait_for_function(
            "asked => document.querySelector('h1').innerText !== asked", arg=asked
        )
    at_limb(tablet, "left hand")
    tablet.page.get_by_text("Photographs", exact=True).click()
    tablet.page.locator("input[type=file]").set_input_files(picture)
    press(tablet, "Keep this photograph")
    tablet.page.locator(".photos img").wait_for()
    press(tablet, "Taken")
    at_limb(tablet, "right hand")
    press(tablet, "Again")
    tablet.page.get_by_text("tried 1 time").wait_for()
    press(tablet, "Taken")
    at_limb(tablet, "left foot")
    press(tablet, "Not today")
    tablet.page.get_by_text("2 of 3 taken").wait_for()
    press(tablet, "Finish the sitting")
    tablet.page.get_by_text("The sitting is finished").wait_for()


def at_limb(tablet, limb):
    tablet.page.locator(".question__who", has_text=limb).wait_for()
    assert "Ada" in tablet.page.locator(".question__who").inner_text()


def everything_is_poured(desk):
    desk.open("/bench/")
    follow(desk, "Mix and pour")
    grams = [desk.page.locator(f"#id_{name}").input_value() for name in ("plaster_g", "water_g")]
    assert "Plaster never touches skin" in words_of(desk) or "never touches skin" in words_of(desk)
    press(desk, "These pieces are poured")
    desk.page.wait_for_url("**/bench/")
    return [int(each) for each in grams]


def everything_comes_out(desk):
    for left in range(Cast.objects.in_the_mould().count(), 0, -1):
        desk.open("/bench/")
        with desk.page.expect_navigation():
            press(desk, "Demould")
        assert Cast.objects.in_the_mould().count() == left - 1


def everything_is_weighed(desk, mass_g):
    for cast in Cast.objects.whole().order_by("pk"):
        desk.open(f"/bench/casts/{cast.pk}/weigh/")
        desk.page.get_by_label("The scale shows").fill(str(mass_g))
        with desk.page.expect_navigation():
            press(desk, "Write it down")
        assert cast.weighings.last().mass_g == mass_g


def it_is_framed(desk, job, tmp_path):
    picture = tmp_path / "frame.jpg"
    picture.write_bytes(makers.a_jpeg())
    desk.open("/bench/")
    press(desk, "Start framing, behind glass")
    frame = desk.page.locator(f"#frame-{job.reference}")
    for step in ("mounted", "closed", "backed", "sealed", "checked"):
        tick = desk.page.locator(f"#tick-{job.reference}-{step}")
        tick.click()
        desk.page.wait_for_selector(f"#tick-{job.reference}-{step}[aria-pressed=true]")
    frame.locator("input[type=file]").set_input_files(picture)
    frame.get_by_role("button", name="Keep this photograph").click()
    desk.page.get_by_role("button", name="It is ready").wait_for()


def test_one_job_goes_the_whole_way(  # noqa: PLR0915 - one job, one story
    log_in, open_window, clock, unit, tmp_path
):
    makers.prices(unit)
    others = makers.a_family(unit, name="Quillfeather", children=("Peregrine",))
    makers.a_job(unit, family=others, starts_at=datetime.combine(clock.on(20), time(10), LONDON))
    desk = log_in(width=1280)
    tablet = log_in(width=820, height=1180, has_touch=True)

    def family_sees(*expected):
        """A phone that nobody logged in on opens the link; what it reads, and what it never does."""
        phone = open_window(width=360, height=780)
        phone.open(address)
        read = words_of(phone)
        for words in expected:
            assert words in read, read
        for words in NEVER_ON_THE_FAMILYS_PAGE:
            assert words not in read
        return phone

    # Monday: somebody asks, becomes a family, and a sitting is booked for Wednesday.
    sitting_on = clock.on(2)
    born_on = sitting_on - timedelta(weeks=16)
    enquiry_becomes_a_family(desk, born_on)
    job = a_sitting_is_booked(desk, born_on, sitting_on)
    address = a_link_is_made(desk, job)
    phone = family_sees("Ada’s casts", day(sitting_on), "10:30")
    phone.page.get_by_label("Deep blue felt", exact=False).check()
    phone.page.get_by_label("Waxed oak", exact=False).check()
    with phone.page.expect_navigation():
        press(phone, "Choose this look")
    assert str(job.order.frame.backing) == "Deep blue felt"

    # Wednesday: the sitting, limb by limb, on the tablet; the foot waits for another day.
    clock.go_to(2, 10)
    the_sitting_is_logged(tablet, tmp_path)
    job.refresh_from_db()
    assert job.stage == Stage.CLAY_REST
    split = Job.objects.get(split_from=job)
    assert [piece.get_limb_display() for piece in split.pieces.all()] == ["left foot"]
    family_sees("Ada’s casts", "left hand", "right hand", day(job.promised_on))

    # Thursday: poured, with what the sheet says; then out of the clay.
    clock.go_to(3, 9)
    sheet = paper_at(desk, f"{desk.home}/bench/weeks/{week_of(clock.on(3))}/sheet.pdf", tmp_path)
    plaster_g, water_g = everything_is_poured(desk)
    assert f"{plaster_g} g plaster + {water_g} g water" in sheet
    assert job.display_reference in sheet
    assert "Ada" in sheet
    assert "Okafor" not in sheet
    job.refresh_from_db()
    assert job.stage == Stage.CASTING
    family_sees("Plaster")
    clock.go_to(3, 13)
    everything_comes_out(desk)
    job.refresh_from_db()
    assert job.stage == Stage.DRYING

    # It dries for eight days; a weight that cannot be is sent back.
    everything_is_weighed(desk, 300)
    family_sees("more days", "Drying")
    clock.go_to(6, 9)
    desk.open(f"/bench/casts/{Cast.objects.whole().first().pk}/weigh/")
    for wrong, sentence in ((0, "above 0 g"), (301 + 40, "heavier than")):
        desk.page.get_by_label("The scale shows").fill(str(wrong))
        press(desk, "Write it down")
        desk.page.get_by_text(sentence).first.wait_for()
    everything_is_weighed(desk, 235)
    clock.go_to(11, 9)
    everything_is_weighed(desk, 209.5)
    desk.open("/bench/")
    assert desk.page.get_by_role("button", name="Start framing").count() == 0
    for morning in (12, 13, 14):
        clock.go_to(morning, 10)
        everything_is_weighed(desk, 209.4)

    # Framed, photographed, ready; the look is fixed from here on.
    it_is_framed(desk, job, tmp_path)
    phone = family_sees("Framing", "Deep blue felt")
    assert phone.page.get_by_role("button", name="Choose this look").count() == 0
    with desk.page.expect_navigation():
        press(desk, "It is ready")
    job.refresh_from_db()
    assert job.stage == Stage.READY
    family_sees("Ready to come home", "£211.00")

    # The invoice, the money, the way home.
    desk.open(f"/jobs/{job.display_reference}/order/")
    with desk.page.expect_navigation():
        press(desk, "Issue the invoice")
    number = desk.page.locator("main a.ref", has_text="INV-").first.inner_text().split(",")[0]
    total = desk.page.locator("main .money--big, main .figures dd").first.inner_text()
    assert total == "£211.00"  # the pair, and the blue felt
    invoice = paper_at(desk, f"{desk.home}/invoices/{number}.pdf", tmp_path)
    for words in (number, total, unit.trader_name, "9 Quay Row", job.display_reference):
        assert words in invoice
    assert "VAT" not in invoice
    phone = family_sees("£211.00", number)
    theirs = phone.page.get_by_role("link", name=number).get_attribute("href")
    assert paper_at(phone, f"{desk.home}{theirs}", tmp_path) == invoice

    desk.open(f"/jobs/{job.display_reference}/order/")
    desk.page.get_by_label("Amount").fill("211.01")
    desk.page.get_by_label("card", exact=True).check()
    press(desk, "Write down this payment")
    desk.page.get_by_text("take at most that").first.wait_for()
    desk.page.get_by_label("Amount").fill("211.00")
    press(desk, "Write down this payment")
    desk.page.get_by_role("button", name="Hand it over").wait_for()
    with desk.page.expect_navigation():
        press(desk, "Hand it over")
    job.refresh_from_db()
    assert job.stage == Stage.HANDED_OVER
    family_sees("Home", "paid")
