"""A sitting on the tablet in a real browser, with the signal gone: nothing that was tapped is lost."""

import io
import json
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.utils import timezone
from PIL import Image

from bookings.consent.models import Consent
from bookings.photos.models import Photo
from bookings.sittings.models import ClayPrint, Sitting
from orders.order.models import Order
from orders.payments.models import Payment
from tests import makers
from tests.browser.axe import complaints
from tests.browser.tablet import TABLET, TABLET_ON_ITS_SIDE, Tablet, small_targets

VECTORS = Path(settings.BASE_DIR) / "tests" / "reference" / "sitting_flow.json"
RUN = """async (given) => {
  const flow = await import("/static/js/sitting/flow.js");
  const contextOf = (without = []) =>
    ({ ...given.context, ...Object.fromEntries(without.map((name) => [name, null])) });
  const flows = given.flows.map(({ taps, without }) => {
    const context = contextOf(without);
    let visit = flow.begin(context);
    const steps = [], said = [];
    for (const tapped of taps) {
      try {
        const answer = flow.tap(visit, context, tapped);
        visit = answer.visit;
        said.push(...answer.said);
        steps.push(visit.at);
      } catch (refused) {
        if (!(refused instanceof RangeError)) throw refused;
        steps.push("refused");
      }
    }
    return { steps, said };
  });
  const limbs = (outcomes) => outcomes.map((outcome, pk) => ({ pk, outcome }));
  const answered = { finished: null, who: "Jo", ready: true, asked: { keep: true, show: false } };
  const after = given.after.map(({ outcomes, answered: at }) => flow.after(
    { ...answered, limbs: limbs(outcomes) }, contextOf(["order"]), `limb:${at}`));
  const { order, list } = given.context;
  return {
    flows,
    after,
    deposits: given.deposits.map((each) => flow.deposit(each.total_minor, each.percent, each.fixed_minor ?? null)),
    totals: given.totals.map((each) => flow.total(order, list, each.backing, each.finish)),
    trays: given.trays.map((each) => flow.freeTray(each.used)),
  };
}"""


@pytest.fixture
def vectors():
    return json.loads(VECTORS.read_text(encoding="utf-8"))


@pytest.fixture
def job(unit, owner):
    makers.prices(unit)
    return makers.a_job(unit, pieces=4, by=owner.user)


@pytest.fixture
def sitting(job):
    return job.sittings.get()


@pytest.fixture
def tablet(open_window, owner, sitting):
    made = Tablet(open_window(owner, *TABLET))
    yield made.take_along()
    made.forgive_no_signal()


def to_the_limbs(tablet, sitting):
    """Nothing is said yet: a yes to everything but showing the casts."""
    return asked(tablet.begin(sitting).tap("#who-contact")).tap("#ready")


def asked(tablet, no=("consent:show",)):
    while tablet.step.startswith("consent:"):
        tablet.tap("#no" if tablet.step in no else "#yes")
    return tablet


def whole_sitting(tablet, sitting):
    to_the_limbs(tablet, sitting)
    for _ in range(4):
        tablet.tap("#taken")
    return tablet.tap("#look").tap("#pay-card").tap("#finish")


# --- the rules, pure --------------------------------------------------------------------------------------------------


def test_the_flow_answers_its_vectors(tablet, vectors):
    found = tablet.page.evaluate(RUN, vectors)
    for wanted, flow in zip(vectors["flows"], found["flows"], strict=True):
        assert flow["steps"] == wanted["steps"], wanted["name"]
        if "said" in wanted:
            assert flow["said"] == wanted["said"], wanted["name"]
        if "kinds" in wanted:
            assert [each["kind"] for each in flow["said"]] == wanted["kinds"], wanted["name"]
        if "last" in wanted:
            assert flow["said"][-1] == wanted["last"], wanted["name"]
    onward = [each["next"] for each in vectors["after"]]
    assert found["after"] == ["summary" if at is None else f"limb:{at}" for at in onward]
    assert found["deposits"] == [each["deposit_minor"] for each in vectors["deposits"]]
    assert found["totals"] == [each["total_minor"] for each in vectors["totals"]]
    assert found["trays"] == [each["free"] for each in vectors["trays"]]


# --- a sitting without a signal ---------------------------------------------------------------------------------------


def test_four_limbs_take_at_most_fourteen_taps_and_come_home(tablet, sitting, job):
    tablet.signal(False)
    tablet.page.reload()
    tablet.ready()
    whole_sitting(tablet, sitting)
    assert tablet.taps <= 14
    assert tablet.heading == "The sitting is done"
    unsent = len(tablet.unsent())
    assert f"{unsent} answers not sent yet" in tablet.page.locator("#safe").inner_text()
    assert not ClayPrint.objects.filter(outcome="taken").exists()

    tablet.signal(True)
    tablet.until_home()
    assert tablet.unsent() == []
    sitting.refresh_from_db()
    assert sitting.state == Sitting.State.DONE
    taken = sitting.prints.filter(outcome="taken")
    assert sorted(taken.values_list("tray", flat=True)) == ["1", "2", "3", "4"]
    given = set(Consent.objects.in_force().values_list("purpose", flat=True))
    assert "keep" in given
    assert "show" not in given
    order = Order.objects.get(job=job)
    assert (order.frame.backing.name, order.frame.finish.name) == ("Chalk linen", "Waxed oak")
    payment = Payment.objects.get()
    assert (payment.amount_minor, payment.method) == (8625, "card")


def test_the_second_opening_needs_no_signal(tablet, sitting):
    tablet.signal(False)
    tablet.kill()
    assert tablet.page.locator(f"#sitting-{sitting.pk}").is_visible()
    assert "Taken along" in tablet.page.locator(".page__lead").inner_text()


def test_what_is_kept_survives_a_kill_after_every_tap(tablet, sitting):
    tablet.signal(False)
    taps = ["#mark-flat", "#repeat", "#taken", "#undo", *["#taken"] * 4]
    to_the_limbs(tablet, sitting)
    said = len(tablet.unsent())
    for selector in [*taps, "#look", "#pay-cash", "#finish"]:
        tablet.tap(selector, stays=selector in ("#mark-flat", "#repeat"))
        step, said = tablet.step, said + 1
        tablet.kill()
        assert tablet.step == step, selector
        assert [entry["seq"] for entry in tablet.unsent()] == list(range(1, said + 1))
    tablet.signal(True)
    tablet.until_home()
    assert sitting.prints.filter(outcome="taken").count() == 4
    assert sorted(sitting.prints.values_list("tries", flat=True)) == [0, 0, 0, 1]


def test_a_kill_in_the_middle_of_a_tap_keeps_all_of_it_or_none(tablet, sitting):
    tablet.signal(False)
    to_the_limbs(tablet, sitting)
    limbs = [each.pk for each in sitting.prints.order_by("pk")]
    for _ in range(3):
        before, step = len(tablet.unsent()), tablet.step
        tablet.page.evaluate("document.getElementById('taken').click()")
        tablet.kill()
        moved = len(tablet.unsent()) - before
        assert moved in (0, 1)
        assert tablet.step == (
            step if not moved else f"limb:{limbs[limbs.index(int(step[5:])) + 1]}"
        )
        if tablet.step == f"limb:{limbs[-1]}":
            break


# A reading of the store that ends while a sitting that is opened is being written.
A_READING_BETWEEN = """async (pk) => {
  const turn = () => new Promise((done) => setTimeout(done, 5));
  const held = (store, whether) => {
    const hold = () => whether() && (store.get("nothing").onsuccess = hold);
    hold();
  };
  const asked = indexedDB.open("caststead-tablet");
  await new Promise((done) => { asked.onsuccess = done; });
  const getAll = IDBObjectStore.prototype.getAll;
  let readings = 0, reading = true, writing = true;
  IDBObjectStore.prototype.getAll = function (...given) {
    if (this.name === "told" && ++readings === 2) held(this, () => reading);
    return getAll.apply(this, given);
  };
  dispatchEvent(new Event("online")); // tries to send: reads what there is before and after
  while (readings < 2) await turn();
  held(asked.result.transaction("settings").objectStore("settings"), () => writing);
  document.getElementById(`sitting-${pk}`).click();
  reading = false;
  const after = asked.result.transaction("told", "readwrite"); // stands in the row behind the reading
  await new Promise((done) => { after.oncomplete = done; });
  for (let number = 0; number < 4; number += 1) await turn();
  writing = false;
  for (let open = null; open !== pk; await turn()) {
    const found = asked.result.transaction("settings").objectStore("settings").get("open");
    await new Promise((done) => { found.onsuccess = done; });
    open = found.result;
  }
  asked.result.close();
  for (let number = 0; number < 4; number += 1) await turn();
  return document.getElementById("question").dataset.step;
}"""


def test_a_sitting_opens_although_the_store_was_read_meanwhile(tablet, sitting):
    tablet.signal(False)
    assert tablet.page.evaluate(A_READING_BETWEEN, sitting.pk) == "who"


def test_a_lost_answer_and_a_repeat_are_one_write(tablet, sitting):
    """Home keeps the entry, but its answer never arrives: the same goes again, and is once."""
    tablet.page.route("**/tablet/entries/", lost_once := _LostOnce())
    to_the_limbs(tablet, sitting).tap("#taken")
    tablet.page.wait_for_function(
        "() => /not sent/.test(document.getElementById('safe').textContent)"
    )
    assert lost_once.times >= 1
    tablet.page.unroute("**/tablet/entries/")
    tablet.page.evaluate("dispatchEvent(new Event('online'))")
    tablet.until_home()
    assert sitting.job.events.filter(what="log_print").count() == 1
    assert Consent.objects.filter(purpose="keep").count() == 1


class _LostOnce:
    def __init__(self):
        self.times = 0

    def __call__(self, route):
        self.times += 1
        if self.times == 1:
            route.fetch()
        route.abort()


# --- log-in, refusals, conflicts --------------------------------------------------------------------------------------


def test_a_session_that_ended_loses_nothing(tablet, sitting, owner, live_server):
    owner.user.set_password(makers.PASSWORD)
    owner.user.save()
    tablet.window.context.clear_cookies()
    to_the_limbs(tablet, sitting).tap("#taken")
    tablet.page.locator(".sit__log-in").wait_for()
    kept = len(tablet.unsent())
    assert kept > 4
    assert f"{kept} answers not sent" in tablet.page.locator("#safe").inner_text()
    tablet.page.locator(".sit__log-in").click()
    tablet.page.get_by_label("E-mail address").fill(owner.user.email)
    tablet.page.get_by_label("Password").fill(makers.PASSWORD)
    tablet.page.get_by_role("button", name="Log in").click()
    tablet.ready().until_home()
    assert sitting.prints.filter(outcome="taken").count() == 1
    tablet.window.faults[:] = [fault for fault in tablet.window.faults if "401" not in fault]


def test_two_tablets_that_say_different_things_end_in_a_choice(
    tablet, open_window, helper, sitting, owner
):
    other = Tablet(open_window(helper, *TABLET)).take_along()
    for each, outcome in ((tablet, "#taken"), (other, "#not_today")):
        each.signal(False)
        to_the_limbs(each, sitting).tap(outcome)
    tablet.signal(True)
    tablet.until_home()
    other.signal(True)
    other.page.locator("#choose").wait_for()
    first = sitting.prints.order_by("pk").first()
    assert first.outcome == "taken"
    other.tap("#choose")
    card = other.page.get_by_role("group", name="Ada, left hand")
    assert "two answers" in card.inner_text()
    assert "Theirs: taken" in card.inner_text()
    card.get_by_role("button", name="Mine: not today").click()
    card.wait_for(state="detached")
    first.refresh_from_db()
    assert first.outcome == "not_today"
    other.forgive_no_signal()


def test_a_refused_entry_is_shown_and_holds_nothing_up(tablet, sitting):
    """Somebody at the desk left the limb off meanwhile: that answer comes to nothing, the rest does not."""
    tablet.signal(False)
    to_the_limbs(tablet, sitting).tap("#taken").tap("#taken")
    sitting.prints.order_by("pk").first().piece.__class__.objects.filter(
        pk=sitting.prints.order_by("pk").first().piece_id
    ).update(left_off_at=timezone.now(), left_off_why="They changed their mind.")
    tablet.signal(True)
    tablet.until_home()
    assert sitting.prints.order_by("pk")[1].outcome == "taken"
    tablet.page.locator("#sittings").click()
    card = tablet.page.locator(".refused").first
    card.wait_for()
    assert "left off" in card.inner_text()


# --- photographs ------------------------------------------------------------------------------------------------------


def test_a_photograph_waits_with_the_taps_and_follows_them_home(tablet, sitting):
    tablet.signal(False)
    to_the_limbs(tablet, sitting)
    made = io.BytesIO()
    Image.effect_noise((1600, 1200), 90).convert("RGB").save(made, "JPEG", quality=95)
    picture = {"name": "hand.jpg", "mimeType": "image/jpeg", "buffer": made.getvalue()}
    tablet.page.set_input_files("#photo", picture)
    tablet.page.get_by_text("1 photograph", exact=True).wait_for()
    tablet.kill()
    assert "1 photograph not sent yet" in tablet.page.locator("#safe").inner_text()
    tablet.signal(True)
    tablet.until_home()
    photo = Photo.objects.get()
    assert (photo.width_px, photo.height_px) == (1600, 1200)
    assert photo.piece == sitting.prints.order_by("pk").first().piece


def test_a_photograph_that_is_not_sent_yet_can_be_dropped(tablet, sitting):
    tablet.signal(False)
    to_the_limbs(tablet, sitting)
    picture = {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": makers.a_jpeg()}
    for shown in ("1 photograph", "2 photographs"):
        tablet.page.set_input_files("#photo", picture)
        tablet.page.get_by_text(shown, exact=True).wait_for()
    tablet.page.locator("#drop-photo").click()
    tablet.page.get_by_text("1 photograph", exact=True).wait_for()
    tablet.signal(True)
    tablet.until_home()
    assert Photo.objects.count() == 1


def test_a_photograph_needs_the_familys_word(tablet, sitting):
    tablet.begin(sitting).tap("#who-contact")
    asked(tablet, no=("consent:keep", "consent:show")).tap("#ready")
    assert tablet.page.locator("#photo").count() == 0
    tablet.tap("#ask-keep")
    assert tablet.heading == "May we keep photographs?"


def test_what_is_no_picture_goes_home_and_is_refused_there(tablet, sitting):
    sent = []
    tablet.page.on("request", lambda request: sent.append(request.url.split("/")[4]))
    to_the_limbs(tablet, sitting)
    text = {"name": "notes.jpg", "mimeType": "image/jpeg", "buffer": b"not a picture at all"}
    tablet.page.set_input_files("#photo", text)
    tablet.page.get_by_text("1 photograph", exact=True).wait_for()
    tablet.page.wait_for_function(
        "() => /at home/.test(document.getElementById('safe').textContent)"
    )
    tablet.page.locator("#sittings").click()
    card = tablet.page.get_by_role("group", name="A photograph")
    card.wait_for()
    with tablet.page.expect_response("**/tablet/pack/"):  # asked for once all is sent
        tablet.page.locator("#take-along").click()
    assert sent.count("photos") == 2  # what is there, and all of it; then never by itself again
    card.get_by_role("button", name="Send it again").click()
    tablet.page.wait_for_function("() => !document.querySelector('[aria-label=\"A photograph\"]')")
    card.wait_for()
    assert sent.count("photos") == 4
    card.get_by_role("button", name="Drop it").click()
    card.wait_for(state="detached")
    assert not Photo.objects.exists()
    tablet.window.faults[:] = [fault for fault in tablet.window.faults if "422" not in fault]


# --- the queue as a file, the days, the end --------------------------------------------------------------------------


def test_the_file_of_the_queue_is_taken_in_at_the_desk(
    tablet, sitting, open_window, owner, tmp_path
):
    tablet.signal(False)
    to_the_limbs(tablet, sitting).tap("#taken").tap("#not_today")
    tablet.page.locator("#sittings").click()
    with tablet.page.expect_download() as download:
        tablet.page.locator("#hand-over").click()
    path = tmp_path / download.value.suggested_filename
    download.value.save_as(path)
    assert len(tablet.unsent()) > 5

    desk = open_window(owner)
    desk.open("/tablet-file/")
    desk.page.locator("input[type=file]").set_input_files(path)
    desk.page.locator("main button[type=submit]").click()
    desk.page.wait_for_load_state()
    assert list(sitting.prints.order_by("pk").values_list("outcome", flat=True)) == [
        "taken", "not_today", "planned", "planned",
    ]  # fmt: skip

    tablet.signal(True)
    tablet.until_home()
    assert sitting.job.events.filter(what="log_print").count() == 2


def test_from_the_third_day_it_warns(tablet, sitting):
    tablet.signal(False)
    tablet.begin(sitting).tap("#who-contact")
    tablet.page.locator("#sittings").click()
    assert "safe on this tablet" in tablet.page.locator("#unsent").inner_text()
    assert "days" not in tablet.page.locator("#unsent").inner_text()
    tablet.page.clock.set_fixed_time(timezone.now() + timedelta(days=3, minutes=1))
    tablet.page.reload()
    tablet.page.locator("#unsent").wait_for()
    assert "waited 3 days" in tablet.page.locator("#unsent").inner_text()


def test_logging_out_asks_first_and_wipes(tablet, sitting):
    tablet.signal(False)
    tablet.begin(sitting).tap("#who-contact")
    tablet.page.locator("#sittings").click()
    tablet.page.locator("#wipe").click()
    asked = tablet.page.locator("#wiping")
    assert "1 answer would be lost" in asked.inner_text()
    tablet.page.locator("#keep-it").click()
    assert len(tablet.unsent()) == 1
    tablet.signal(True)
    tablet.page.reload()
    tablet.ready().until_home()
    tablet.page.locator("#wipe").click()
    tablet.page.locator("#wipe-now").click()
    tablet.page.wait_for_url("**/log-in/**")
    assert tablet.page.evaluate("indexedDB.databases().then((all) => all.length)") == 0
    assert tablet.page.evaluate("caches.keys()") == []
    tablet.page.goto("/diary/")
    assert "/log-in/" in tablet.page.url


def test_a_tablet_is_wiped_out_of_reach_as_well_and_stays_so(tablet, sitting):
    tablet.signal(False)
    tablet.page.locator("#wipe").click()
    tablet.page.locator("#wipe-now").click()
    tablet.page.get_by_role("heading", name="This tablet is wiped").wait_for()
    assert "log out there" in tablet.page.locator("main").inner_text()
    # What was still under way must not make the store anew; the probe comes after it in the row.
    left = tablet.page.evaluate(
        """async () => {
          dispatchEvent(new Event("online"));
          await new Promise((done) => { indexedDB.open("probe").onsuccess = done; });
          return (await indexedDB.databases()).map(({ name }) => name);
        }"""
    )
    assert left == ["probe"]


def test_a_full_tablet_says_so_and_stays_where_it_was(tablet, sitting):
    tablet.begin(sitting)
    tablet.page.evaluate(
        """() => {
          const put = IDBObjectStore.prototype.put;
          IDBObjectStore.prototype.put = function (...row) {
            queueMicrotask(() => this.transaction.abort()); // as a full disk does
            return put.apply(this, row);
          };
        }"""
    )
    tablet.page.locator("#who-contact").click()
    refused = tablet.page.locator(".refused[role=alert]")
    refused.wait_for()
    assert "not kept" in refused.inner_text()
    assert tablet.step == "who"
    assert tablet.page.evaluate("document.activeElement.className") == "refused"


# --- for every hand and eye ------------------------------------------------------------------------------------------


def look(tablet, faults):
    """What is wrong with a screen, at both ways of holding it, on a phone and in the dark."""
    page, step = tablet.page, tablet.step
    for width, height in (TABLET, TABLET_ON_ITS_SIDE, (360, 740)):
        page.set_viewport_size({"width": width, "height": height})
        found = tablet.window.too_wide() + small_targets(page) + complaints(page)
        faults += [f"{step} at {width}: {fault}" for fault in found]
    page.emulate_media(color_scheme="dark", reduced_motion="reduce")
    faults += [f"{step} in the dark: {fault}" for fault in complaints(page)]
    page.emulate_media(color_scheme="light", reduced_motion="no-preference")
    page.set_viewport_size(dict(zip(("width", "height"), TABLET, strict=True)))


def test_no_screen_is_at_fault(tablet, sitting):
    faults = []
    look(tablet, faults)
    tablet.page.locator("#wipe").click()
    look(tablet, faults)
    tablet.page.locator("#keep-it").click()
    tablet.begin(sitting)
    look(tablet, faults)
    tablet.tap("#who-contact")
    while tablet.step.startswith("consent:"):
        look(tablet, faults)
        tablet.tap("#yes")
    look(tablet, faults)
    tablet.tap("#ready")
    tablet.page.locator("#notes summary").click()
    tablet.page.locator("#all summary").click()
    look(tablet, faults)
    for selector in ("#taken", "#not_today", "#taken", "#taken", "#look", "#pay-cash"):
        tablet.tap(selector)
        look(tablet, faults)
    tablet.tap("#finish-split")
    look(tablet, faults)
    assert faults == []


@pytest.mark.parametrize("size", [TABLET, TABLET_ON_ITS_SIDE])
def test_the_answers_of_a_limb_need_no_scrolling(tablet, sitting, size):
    tablet.page.set_viewport_size(dict(zip(("width", "height"), size, strict=True)))
    to_the_limbs(tablet, sitting)
    foot = tablet.page.locator(".sit__foot").bounding_box()
    for selector in ("#mark-flat", "#taken", "#repeat", "#not_today", "#tray-more", "#length-more"):
        box = tablet.page.locator(selector).bounding_box()
        assert box["y"] >= 0, selector
        assert box["y"] + box["height"] <= foot["y"], selector
    assert foot["y"] + foot["height"] <= size[1]


def test_the_keyboard_alone_takes_a_limb_and_the_ear_follows(tablet, sitting):
    to_the_limbs(tablet, sitting)
    page = tablet.page
    assert page.evaluate("document.activeElement.tagName") == "H1"
    for _ in range(12):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == "taken":
            break
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
    page.keyboard.press("Enter")
    page.wait_for_function("() => document.getElementById('said').textContent.includes('taken')")
    spoken = page.locator("#said").text_content()
    assert spoken.startswith("Ada, left hand taken. Safe on this tablet.")
    assert "Ada, right hand" in spoken


SLOW_TO_READ = """() => {
    const transaction = IDBDatabase.prototype.transaction;
    IDBDatabase.prototype.transaction = function (names, mode, ...rest) {
        const deal = transaction.call(this, names, mode, ...rest);
        if (mode === 'readonly') {
            const later = (read) => deal.addEventListener('complete', () => setTimeout(read, 30));
            Object.defineProperty(deal, 'oncomplete', { set: later });
        }
        return deal;
    };
}"""
PRESSED_AMONG_NEWS = """() => {
    for (let ms = 0; ms < 300; ms++) setTimeout(() => dispatchEvent(new Event('online')), ms);
    setTimeout(() => document.getElementById('taken').click(), 100);
}"""


def test_news_from_home_while_a_tap_is_written_takes_nothing_from_the_ear(tablet, sitting):
    to_the_limbs(tablet, sitting)
    tablet.page.evaluate(SLOW_TO_READ)
    tablet.page.evaluate(PRESSED_AMONG_NEWS)
    tablet.page.wait_for_function(
        "() => document.getElementById('said').textContent.includes('taken')"
    )
    spoken = tablet.page.locator("#said").text_content()
    assert spoken.startswith("Ada, left hand taken. Safe on this tablet.")
    assert "Ada, right hand" in spoken


def test_a_toggle_keeps_the_keyboard_where_it_is(tablet, sitting):
    to_the_limbs(tablet, sitting)
    tablet.page.locator("#mark-depth").press("Enter")
    tablet.page.locator("#mark-depth[aria-pressed=false]").wait_for()
    assert tablet.page.evaluate("document.activeElement.id") == "mark-depth"
    assert "not depth even" in tablet.page.locator("#taken").inner_text()


def test_undo_takes_the_answer_back_at_home_as_well(tablet, sitting):
    to_the_limbs(tablet, sitting).tap("#taken").tap("#undo")
    tablet.until_home()
    first = sitting.prints.order_by("pk").first()
    assert (first.outcome, first.tray) == ("planned", "")


def test_a_length_is_measured_against_the_age(tablet, sitting):
    to_the_limbs(tablet, sitting)
    assert "expected" in tablet.page.locator("#length-label").inner_text()
    tablet.page.locator("#length-value").fill("200")
    tablet.page.locator("#length-value").press("Enter")
    tablet.page.get_by_text("measure once more").wait_for()
    tablet.page.locator("#length-value").fill("9")
    tablet.page.locator("#length-value").press("Enter")
    tablet.page.locator(".refused").wait_for()
    assert "20 to 400" in tablet.page.locator(".refused").inner_text()
    tablet.until_home()
    assert sitting.prints.order_by("pk").first().length_mm == 200


def test_twins_are_asked_one_after_the_other(open_window, unit, owner):
    from bookings.diary.actions import book_sitting  # noqa: PLC0415
    from studio.limbs import Limb  # noqa: PLC0415

    family = makers.a_family(unit, children=("Wren", "Isla"))
    at = timezone.now()
    held = book_sitting(
        family,
        wanted=[(child, limb) for child in family.children.all() for limb in list(Limb)[:2]],
        starts_at=makers.next_morning(unit, at),
        minutes=45,
        by=owner.user,
        at=at,
        key=makers.uuid.uuid4(),
    )
    tablet = Tablet(open_window(owner, *TABLET)).take_along()
    asked(tablet.begin(held).tap("#who-contact"))
    assert "Between two children" in tablet.page.locator(".caution").inner_text()
    tablet.tap("#ready")
    who = tablet.page.locator(".sit__who")
    first = who.inner_text().split(",")[0]
    tablet.tap("#taken")
    assert who.inner_text().startswith(first)
    tablet.tap("#taken")
    assert not who.inner_text().startswith(first)
    assert "Another child" in tablet.page.locator(".status--info").first.inner_text()
    tablet.tap("#taken").tap("#taken")
    assert tablet.step == "summary"  # no price list: nothing to choose, nothing to pay


def test_a_fixed_deposit_is_the_one_that_is_asked_for(open_window, owner, unit, sitting):
    unit.deposit_fixed_minor = 5000
    unit.save()
    tablet = to_the_limbs(Tablet(open_window(owner, *TABLET)).take_along(), sitting)
    for _ in range(4):
        tablet.tap("#taken")
    tablet.tap("#look")
    assert tablet.heading == "The deposit: £50.00"


def test_a_helper_is_not_asked_for_money(open_window, helper, sitting):
    tablet = Tablet(open_window(helper, *TABLET)).take_along()
    to_the_limbs(tablet, sitting)
    for _ in range(4):
        tablet.tap("#taken")
    assert tablet.step == "summary"


def test_the_page_itself_tells_nothing_about_anybody(client, sitting):
    page = client.get("/tablet/").content.decode()
    assert "Okafor" not in page
    assert "Hollin" not in page
