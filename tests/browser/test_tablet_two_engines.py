"""The tablet's page in Chromium and in WebKitGTK, over real sockets: nothing that was tapped is lost."""

import io
import logging
import time
import uuid
from collections import Counter
from contextlib import suppress
from pathlib import Path

import pytest
from django.conf import settings
from django.urls import reverse
from django.utils import timezone
from PIL import Image
from playwright.sync_api import Error as PlaywrightError

from bookings.diary.actions import book_sitting
from bookings.photos.models import Photo
from bookings.sittings.models import ClayPrint, Sitting
from orders.payments.models import Payment
from studio.limbs import Limb
from tests import makers
from tests.browser.hands import Chromium, Limit, WebKit, a_webkit, own_chromium
from tests.browser.link import Link
from tests.browser.sitter import Lost, Sitter
from tests.browser.spoilers import KeptLater, NewKeys
from tests.browser.tablet import LEAST_PX, TABLET, TABLET_ON_ITS_SIDE, TOO_NEAR, TOO_SMALL
from tests.browser.windows import TOO_WIDE
from tests.proofs.whole import IS_WHOLE

logger = logging.getLogger(__name__)

# So many random sittings in each engine.
SITTINGS = 60 if IS_WHOLE else 24
AT_ONCE = 12  # sittings between two signals
KILLED = 0.08  # of the taps
PHONE = Path(settings.BASE_DIR) / "tests" / "bookings" / "photos" / "data" / "phone.heic"
ORIENTATION, ON_ITS_SIDE, GPS = 0x0112, 6, 0x8825
# How EXIF and XMP begin, and how XMP names a place.
PLACES = (b"Exif", b"http://ns.adobe.com/xap", b"xmpmeta", b"GPS")
MOST_S = 900  # for one test, on a machine that is busy with other things
FOUR_LIMBS_MOST_TAPS, FOUR_LIMBS_MOST_S = 14, 60


@pytest.fixture
def lay_link(live_server):
    """`lay_link(seed)`: a way from the tablet to the running studio."""
    links = []

    def lay(seed=1, spoil=None):
        links.append(Link(live_server.thread.host, live_server.thread.port, seed=seed, spoil=spoil))
        return links[-1]

    yield lay
    for link in links:
        link.close()


@pytest.fixture
def limit():
    """However it goes, a test of this file ends by itself."""
    made = Limit(MOST_S)
    yield made
    made.close()


@pytest.fixture(params=["chromium", "webkit"])
def take_in_hand(request, owner, limit):
    """`take_in_hand(link)`: the tablet in the hand of the owner, who is logged in."""
    if request.param == "chromium":
        kind = request.getfixturevalue("chromium").browser_type
        with own_chromium(kind, limit) as browser:
            yield from _hands(lambda: Chromium(browser, TABLET), owner)
    else:
        with a_webkit(limit) as driver:
            yield from _hands(lambda: WebKit(driver, TABLET), owner)


def _hands(make, owner):
    made = []

    def take(link):
        hand = make()
        made.append(hand)
        hand.home = link.url
        hand.log_in(owner.cookies[settings.SESSION_COOKIE_NAME].value)
        return hand

    yield take
    for hand in made:
        with suppress(PlaywrightError):
            hand.close()


@pytest.fixture
def picture(tmp_path):
    """Noise, so that it stays large: two parts on the way home."""
    path = tmp_path / "hand.jpg"
    Image.effect_noise((640, 480), 120).convert("RGB").save(path, "JPEG", quality=95)
    return path


@pytest.fixture
def turned(tmp_path):
    """Upright only by its EXIF, which tells the place as well."""
    path = tmp_path / "turned.jpg"
    exif = Image.Exif()
    exif[ORIENTATION] = ON_ITS_SIDE
    exif[GPS] = {1: "N", 2: (51.0, 28.0, 38.0), 3: "W", 4: (3.0, 10.0, 41.0)}
    Image.new("RGB", (640, 480), "tan").save(path, "JPEG", exif=exif)
    with Image.open(path) as lying:
        assert lying.getexif().get_ifd(GPS)
    return path


def booked(unit, by, number):
    """Sittings of the days ahead: one to four limbs, of one child or of twins."""
    makers.prices(unit)
    at = timezone.now()
    for count in range(number):
        names = ("Ada", "Wren")[: 1 + count % 3 // 2]
        family = makers.a_family(unit, name=f"Okafor {count}", children=names)
        makers.let_make(family, by=by, at=at)
        wanted = [(child, limb) for child in family.children.all() for limb in Limb]
        yield book_sitting(
            family,
            wanted=wanted[:: len(names)][: 1 + count % 4],
            starts_at=makers.next_morning(unit, at),
            minutes=unit.sitting_minutes,
            by=by,
            at=at,
            key=uuid.uuid4(),
        )


# --- nothing is lost, nothing is twice --------------------------------------------------------------------------------


def test_random_sittings_over_a_poor_link_are_at_home_exactly_once(
    take_in_hand, lay_link, unit, owner, picture
):
    link = lay_link(seed=7)
    hand = take_in_hand(link)
    sitter = Sitter(hand, seed=11, kills=KILLED, picture=picture)
    held = list(booked(unit, owner.user, SITTINGS))
    sitter.take_along(len(held))
    for first in range(0, len(held), AT_ONCE):
        link.mode = "cut"
        sitter.log_all(held[first : first + AT_ONCE])
        assert not said_at_home(unit)[len(sitter.log) :], "the link was not cut"
        link.mode = "poor"
        sitter.until_home()
    audit(unit, sitter)
    assert not Sitting.objects.filter(pk__in=[each.pk for each in held]).exclude(state="done")
    lost = link.counts["lost before"] + link.counts["lost after"]
    assert lost > link.counts["all"] * 0.35
    assert link.counts["repeated"] > 0
    assert sitter.deaths_under_way > SITTINGS // 12
    logger.info(
        "%s: %s answers of %s taps, %s photographs; killed %s times, %s under way; link %s",
        sitter.hand.name, len(sitter.log), sitter.taps, len(sitter.photos),
        sitter.deaths, sitter.deaths_under_way, dict(link.counts),
    )  # fmt: skip


@pytest.mark.parametrize("take_in_hand", ["chromium"], indirect=True)
def test_without_lasting_keys_the_audit_is_red(take_in_hand, lay_link, unit, owner):
    """The control: the same way, but every sending gives its entries new keys."""
    link = lay_link(seed=7, spoil=NewKeys())
    sitter = Sitter(take_in_hand(link), seed=11)
    held = list(booked(unit, owner.user, 3))
    sitter.take_along(len(held))
    link.mode = "cut"
    sitter.log_all(held)
    link.mode = "poor"
    sitter.until_home()
    with pytest.raises(NotOnce):
        audit(unit, sitter)


@pytest.mark.parametrize("take_in_hand", ["chromium"], indirect=True)
def test_a_screen_that_is_ahead_of_the_store_loses_answers(take_in_hand, lay_link, unit, owner):
    """The control: the same way, but the screen moves before the answer is stored."""
    link = lay_link(spoil=KeptLater())
    sitter = Sitter(take_in_hand(link), seed=11, kills=0.5)
    held = list(booked(unit, owner.user, 3))
    sitter.take_along(len(held))
    link.mode = "cut"
    with pytest.raises(Lost):
        sitter.log_all(held)


class NotOnce(AssertionError):
    """What is at home is not what was tapped, each once and in order."""


def audit(unit, sitter):
    """All of her log is at home, each answer once and in its order, and nothing else; so is its effect."""
    home = said_at_home(unit)
    if home != sitter.log:
        twice = len(home) - len(sitter.log)
        first = next(
            (pair for pair in zip(home, sitter.log, strict=False) if pair[0] != pair[1]), ()
        )
        raise NotOnce(f"{twice} more at home than tapped; the first that differ: {first}")
    assert not unit.tablet_entries.exclude(state="kept"), "nobody else said anything"
    stands = {}
    changes = Counter()
    for said in (said for said in sitter.log if said["kind"] == "impression"):
        changes[said["sitting"]] += stands.get(said["impression"]) != said
        stands[said["impression"]] = said
    for clay_print in ClayPrint.objects.filter(pk__in=stands).select_related("sitting__job"):
        wanted = stands[clay_print.pk]
        assert {name: getattr(clay_print, name) for name in PRINT} == {
            name: wanted[name] for name in PRINT
        }
    for pk, count in changes.items():
        assert Sitting.objects.get(pk=pk).job.events.filter(what="log_print").count() == count
    kinds = Counter(said["kind"] for said in sitter.log)
    assert Payment.objects.filter(reverses=None).count() == kinds["deposit"]
    assert Payment.objects.exclude(reverses=None).count() == kinds["deposit_undo"]
    assert Counter(Photo.objects.values_list("piece", flat=True)) == Counter(sitter.photos)


PRINT = ("outcome", "tries", "marks", "length_mm", "note", "tray")
OF_KIND = {
    "arrive": lambda facts: {"who": facts["who"], "ready": all(facts["questions"].values())},
    "consent": lambda facts: {name: facts[name] for name in ("purpose", "yes", "given_by")},
    "impression": lambda facts: facts,
    "look": lambda facts: {},
    "deposit": lambda facts: {"method": facts["method"]},
    "deposit_undo": lambda facts: {},
    "finish": lambda facts: facts,
    "reopen": lambda facts: {},
}


def said_at_home(unit):
    rows = unit.tablet_entries.exclude(kind="photo").order_by("seq", "pk")
    return [
        {"sitting": row.sitting, "kind": row.kind, **OF_KIND[row.kind](row.facts)} for row in rows
    ]


# --- photographs in both engines --------------------------------------------------------------------------------------


SERVED = """async (address) => {
  const answer = await fetch(address), bytes = new Uint8Array(await answer.arrayBuffer());
  return [answer.status, [...bytes]];
}"""


def test_no_picture_that_is_served_tells_its_place(take_in_hand, lay_link, unit, owner, turned):
    """A JPEG that lies on its side, and a HEIC as a phone makes it: both with the place in them."""
    link = lay_link()
    hand = take_in_hand(link)
    sitting = makers.a_job(unit, pieces=1, by=owner.user).sittings.get()
    sitter = Sitter(hand, seed=1, picture=turned)
    sitter.take_along(1)
    link.mode = "cut"
    for tap in (f"#sitting-{sitting.pk}", "#who-contact", "#yes", "#no", "#ready"):
        sitter.move(tap)
    for picture in (turned, PHONE):
        assert any(trace in picture.read_bytes() for trace in PLACES), "nothing to take away"
        sitter.give(picture)
    link.mode = "open"
    sitter.move("#sittings")
    sitter.until_home()
    sizes = {(photo.width_px, photo.height_px) for photo in Photo.objects.all()}
    assert sizes == {(480, 640), (48, 64)}
    for photo in Photo.objects.all():
        for size in ("full", "view", "thumb"):
            address = reverse("bookings:photo", args=[photo.public_id])
            status, content = hand.ask(SERVED, f"{address}?size={size}")
            assert status == 200
            served = Image.open(io.BytesIO(bytes(content)))
            assert served.width < served.height, "it lies on its side"
            assert not served.getexif()
            assert not {"exif", "xmp", "comment", "icc_profile"} & served.info.keys()
            assert not [trace for trace in PLACES if trace in bytes(content)]


# --- the screens in both engines --------------------------------------------------------------------------------------


def test_four_limbs_take_at_most_fourteen_taps_and_a_minute(take_in_hand, lay_link, unit, owner):
    link = lay_link()
    hand = take_in_hand(link)
    makers.prices(unit)
    sitting = makers.a_job(unit, pieces=4, by=owner.user).sittings.get()
    sitter = Sitter(hand, seed=1)
    sitter.take_along(1)
    link.mode = "cut"
    began = time.monotonic()
    taps = [f"#sitting-{sitting.pk}", "#who-contact", "#yes", "#no", "#ready", *["#taken"] * 4]
    taps += ["#look", "#pay-card", "#finish"]
    for tap in taps:
        sitter.move(tap)
    took_s = time.monotonic() - began
    assert sitter.screen["step"] == "over"
    assert len(taps) <= FOUR_LIMBS_MOST_TAPS
    assert took_s < FOUR_LIMBS_MOST_S
    logger.info("%s: %s taps in %.2f s", hand.name, len(taps), took_s)
    link.mode = "open"
    sitter.move("#leave")
    sitter.until_home()
    assert sitting.prints.filter(outcome="taken").count() == 4
    assert Payment.objects.get().method == "card"


def test_the_second_opening_needs_no_signal(take_in_hand, lay_link, unit, owner):
    """How long it takes is told, not judged: the machine may be busy."""
    link = lay_link()
    hand = take_in_hand(link)
    sitting = makers.a_job(unit, pieces=4, by=owner.user).sittings.get()
    sitter = Sitter(hand, seed=1)
    sitter.take_along(1)
    link.mode = "cut"
    hand.kill()
    began = time.monotonic()
    sitter.open()
    took_s = time.monotonic() - began
    assert f"sitting-{sitting.pk}" in sitter.screen["there"]
    assert "Taken along" in hand.words()
    logger.info("%s: open again without a signal in %.2f s", hand.name, took_s)


@pytest.mark.parametrize("take_in_hand", ["webkit"], indirect=True)
def test_no_screen_is_at_fault_in_the_tablets_engine(take_in_hand, lay_link, unit, owner):
    """As test_tablet_flow.py asks of Chromium: thumbs, widths and the accessibility engine.

    Its window is never as narrow as a phone.
    """
    hand = take_in_hand(lay_link())
    makers.prices(unit)
    sitting = makers.a_job(unit, pieces=4, by=owner.user).sittings.get()
    sitter = Sitter(hand, seed=1)
    sitter.take_along(1)
    faults = looked_at(hand)
    for tap in (
        f"#sitting-{sitting.pk}", "#who-contact", "#yes", "#no", "#ready", "#taken", "#not_today",
        "#taken", "#taken", "#look", "#pay-cash", "#finish-split",
    ):  # fmt: skip
        sitter.move(tap)
        faults += looked_at(hand)
    assert sitter.screen["step"] == "over"
    assert faults == []


def looked_at(hand):
    step, faults = hand.ask("() => document.getElementById('question').dataset.step"), []
    for width, height in (TABLET, TABLET_ON_ITS_SIDE):
        hand.resize(width, height)
        found = [hand.ask(TOO_WIDE), *hand.ask(TOO_SMALL, LEAST_PX), *hand.ask(TOO_NEAR)]
        faults += [f"{step} at {width}: {fault}" for fault in found if fault]
    return faults + [f"{step}: {fault}" for fault in hand.complaints()]
