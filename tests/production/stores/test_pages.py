"""The pages of the stores: what they say, to whom, and what a press does."""

import io
import uuid
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from production.stock.models import Lot, Material, Purchase, StockMove
from production.stores import actions, drawing, pages, panels, stock_status
from studio.roles import Role
from studio.stages import Stage
from studio.work.queue import run_periodic
from tests import makers
from tests.production.stores.conftest import (
    BOX,
    FINE,
    OAK,
    delivery,
    facts,
    material,
    stock,
)
from tests.working import planned

pytestmark = pytest.mark.django_db


def status_of(material):
    """The status of a material as it is in the database now."""
    read = material.unit.materials.with_stock().get(pk=material.pk)
    return stock_status.stock_status_of(read, timezone.now())


def url(name, *args):
    return reverse(f"production:{name}", args=args)


def press(client, name, *args, key=None, **data):
    return client.post(url(name, *args), {"key": key or uuid.uuid4(), **data})


def text(response):
    return " ".join(response.content.decode().split())


@pytest.fixture
def busy(unit):
    """26 weeks in which 1.4 kg of plaster went every week, and 1 kg is left."""
    plaster = material(unit, FINE)
    by = makers.owner_of(unit)
    delivery(plaster, 37_400, 3300, days_ago=185)
    for week in range(26):
        at = timezone.now() - timedelta(days=7 * week + 1)
        actions.use_by_hand(plaster, quantity=1400, **facts(by, at))
    return plaster


# --- what the pages say -----------------------------------------------------------------------------------------------


def test_empty_stores_say_how_to_begin_and_the_usual_is_added_at_once(owner, helper, unit):
    assert "Begin with what a studio usually keeps" in text(owner.get(url("stores")))
    assert "once its owner has added it" in text(helper.get(url("stores")))
    press(owner, "add_usual_materials")
    assert "Fine casting plaster" in text(owner.get(url("stores")))
    assert unit.materials.count() == 10


def test_what_is_short_stands_first_with_its_day_and_packs(owner, busy):
    said = text(owner.get(url("stores")))
    assert "1 material to order this week." in said
    assert "1 × sack, 25.00 kg" in said
    assert "1.00 kg" in said


def test_a_helper_never_sees_what_anything_costs(owner, helper, busy):
    for name, args in (
        ("stores", ()),
        ("purchases", ()),
        ("material", (busy.pk,)),
        ("receive", (busy.pk,)),
    ):
        assert "£" in text(owner.get(url(name, *args))), name
        assert "£" not in text(helper.get(url(name, *args))), name
    assert "What it cost" not in text(helper.get(url("receive", busy.pk)))


def test_the_ledger_shows_what_was_there_after_each_line(owner, unit, plaster, by):
    delivery(plaster, 25_000, 2199)
    actions.use_by_hand(plaster, quantity=538, why="A trial.", **facts(by))
    said = text(owner.get(url("material", plaster.pk)))
    assert "A trial." in said
    assert "-538 g" in said
    assert said.index("24.46 kg") < said.index(">25.00 kg<")


def test_the_purchase_list_on_paper(owner, unit, busy, by):
    oak = material(unit, OAK)
    actions.order_material(
        oak,
        quantity=6000,
        cost_minor=5400,
        ordered_on=timezone.localdate(),
        expected_on=timezone.localdate() + timedelta(days=10),
        by=by,
        key=uuid.uuid4(),
    )
    response = owner.get(url("purchase_list"))
    assert response["Content-Type"] == "application/pdf"
    said = PdfReader(io.BytesIO(response.content)).pages[0].extract_text()
    for word in ("Casting plaster", "1 × sack", "Oak moulding", "6.00 m"):
        assert word in said
    assert "£" not in said


def test_the_pour_says_what_the_books_hold_and_that_more_is_noted_as_found(owner, unit, plaster):
    makers.job_at(Stage.CLAY_REST, unit)
    lot = delivery(plaster, 25_000, 2199)
    assert "The books hold 25.00 kg of Casting plaster." in text(owner.get(url("pour")))
    actions.write_off(lot, quantity=24_900, why="Wet.", **facts(makers.owner_of(unit)))
    said = text(owner.get(url("pour")))
    assert "The books hold 100 g of Casting plaster" in said
    assert "it is noted as found" in said


def test_an_empty_purchase_list_says_so(owner, unit):
    assert "Nothing is to be ordered this week" in text(owner.get(url("purchases")))
    said = PdfReader(io.BytesIO(owner.get(url("purchase_list")).content)).pages[0].extract_text()
    assert "Nothing is to be ordered" in said


def on_today(unit, role, now):
    """The lines of the stores, once the worker has been round."""
    run_periodic(now)
    return list(panels.in_the_stores(unit, role, now))


def test_the_day_to_order_is_stored_anew_with_each_movement(
    unit, busy, by, django_capture_on_commit_callbacks
):
    now = timezone.now()
    with django_capture_on_commit_callbacks(execute=True):
        actions.use_by_hand(busy, quantity=stock(busy), **facts(by, now))
    busy.refresh_from_db()
    assert (busy.is_short, busy.runs_out_on) == (True, timezone.localdate(now))
    assert busy.order_on == timezone.localdate(now)
    with django_capture_on_commit_callbacks(execute=True):
        delivery(busy, 1_000_000, 100)
    busy.refresh_from_db()
    assert (busy.is_short, busy.order_on, busy.order_packs) == (False, None, 0)


def test_a_new_day_is_looked_at_by_the_worker(unit, busy):
    now = timezone.now()
    run_periodic(now)
    before = unit.materials.get(pk=busy.pk)
    assert before.outlook_on == timezone.localdate(now)
    later = now + timedelta(days=20)
    run_periodic(later)
    after = unit.materials.get(pk=busy.pk)
    assert after.outlook_on == timezone.localdate(later)
    assert after.order_on >= timezone.localdate(later)


def test_today_says_what_to_order_by_when_and_only_to_the_owner(unit, busy):
    now = timezone.now()
    said = on_today(unit, Role.OWNER, now)
    assert [item.title.split(" by ")[0].split(" today")[0] for item in said] == [
        "Order Casting plaster"
    ]
    assert said[0].detail == "1 × sack, 25.00 kg"
    assert on_today(unit, Role.HELPER, now) == []


def test_today_says_what_runs_out_what_is_overdue_and_what_to_count(unit, by):
    now, today = timezone.now(), timezone.localdate()
    plaster = material(unit, FINE)
    delivery(plaster, 600, 100, days_ago=70)
    for week in range(8):
        quantity = 538 if week == 0 else 8
        note = actions.Note(by, now - timedelta(days=7 * week + 1), uuid.uuid4())
        actions.withdraw(plaster, quantity, what=actions.What.USED, note=note, beyond=True)
    actions.withdraw(
        plaster,
        500,
        what=actions.What.USED,
        note=actions.Note(by, now, uuid.uuid4()),
        beyond=True,
    )
    oak = material(unit, OAK)
    Purchase.objects.create(
        material=oak,
        quantity=3000,
        cost_minor=1,
        ordered_on=today - timedelta(days=12),
        expected_on=today - timedelta(days=2),
        by=by,
    )
    said = {item.title: item for item in on_today(unit, Role.OWNER, now)}
    assert "Count Casting plaster" in said
    assert said["Order Casting plaster today"].why_late.startswith("Late: ")
    assert said["Ask where Oak moulding is"].why_late.startswith("Late: expected ")
    assert set(panels_of_helper(unit, now)) == {"Count Casting plaster"}


def panels_of_helper(unit, now):
    return [item.title for item in on_today(unit, Role.HELPER, now)]


def test_what_is_ordered_by_one_day_is_one_errand(unit, by):
    for name in ("Alpha", "Beta"):
        hand = material(unit, BOX, name=name, used_at="hand")
        delivery(hand, 10, 100, days_ago=185)
        for week in range(26):
            at = timezone.now() - timedelta(days=7 * week + 1)
            actions.count_stock(
                unit, counts=[actions.Counted(hand, 10, stock(hand))], **facts(by, at)
            )
            actions.use_by_hand(hand, quantity=7, **facts(by, at))
        actions.count_stock(unit, counts=[actions.Counted(hand, 7, stock(hand))], **facts(by))
    said = on_today(unit, Role.OWNER, timezone.now())
    assert len(said) == 1
    assert said[0].title.startswith("Order 2 materials")
    assert said[0].detail == "Alpha; Beta"


def test_the_reads_of_the_stores_do_not_grow(unit, busy, constant_queries):
    def grow():
        for number in range(4):
            more = material(unit, BOX, name=f"Box {number}")
            delivery(more, 20, 100)
            delivery(more, 20, 100)

    constant_queries(
        lambda: pages.stores(unit, timezone.now()),
        grow,
    )


# --- the state of a shelf ---------------------------------------------------------------------------------------------


def test_clay_tells_its_age_and_how_often_it_was_used(unit, clay):
    delivery(clay, 4000, 600, days_ago=200)
    for _ in range(3):
        makers.job_at(Stage.DRYING, unit)
    [lot] = pages.lots_now(status_of(clay))
    assert lot.age_words == "200 days"
    assert lot.uses_words == "1.4 times"  # 6 × 900 g of 4 kg
    assert not lot.is_overused
    assert not pages.stores(unit, timezone.now())["worn"]
    actions.edit_material(clay, facts={"most_uses": 1}, seen_version=clay.version)
    [lot] = pages.lots_now(status_of(clay))
    assert lot.is_overused
    assert pages.stores(unit, timezone.now())["worn"]


def test_a_booked_sitting_is_needed_for_and_bookings_tell_how_far_the_plan_is_settled(
    unit, plaster
):
    delivery(plaster, 25_000, 2199)
    before = status_of(plaster)
    assert before.outlook.runs_out_on is None
    assert before.cover_words == "nothing planned takes of it"
    makers.a_job(unit, pieces=4)
    planned(unit)
    after = status_of(plaster)
    assert 600 < before.levels[-1] - after.levels[-1] < 2500
    assert stock_status.booked_ahead_days(unit, timezone.now()) == 0, "too few sittings tell"


def test_the_stores_own_deliveries_tell_how_long_they_take(unit, busy, by):
    today = timezone.localdate()
    for days_ago, took in ((60, 9), (40, 10), (20, 11)):
        ordered = actions.order_material(
            busy,
            quantity=25_000,
            cost_minor=2199,
            ordered_on=today - timedelta(days=days_ago + took),
            expected_on=today - timedelta(days=days_ago),
            by=by,
            key=uuid.uuid4(),
        )
        delivery(busy, 25_000, None, days_ago=days_ago, purchase=ordered)
    assert stock_status._deliveries([busy.pk])[busy.pk] == [11, 10, 9]


def test_the_drawing_stays_in_its_box_and_says_itself_in_words(unit, busy, by):
    today = timezone.localdate()
    actions.order_material(
        busy,
        quantity=25_000,
        cost_minor=2199,
        ordered_on=today,
        expected_on=today + timedelta(days=3),
        by=by,
        key=uuid.uuid4(),
    )
    drawn = drawing.draw_stock_forecast(status_of(busy))
    points = [tuple(map(float, point.split(","))) for point in drawn.line.split()]
    assert all(0 <= x <= 400 and 0 <= y <= 190 for x, y in points)
    assert [x for x, _ in points] == sorted(x for x, _ in points)
    assert drawn.deliveries[0].words == "+ 25.00 kg"
    assert "1.00 kg on the shelf today; 25.00 kg expected" in drawn.words


# --- presses ----------------------------------------------------------------------------------------------------------


def test_a_material_is_added_changed_retired_and_brought_back(owner, unit):
    sent = {
        "kind": "packaging",
        "name": "Carton",
        "measure": "piece",
        "used_at": "home",
        "used_each": "1",
        "returns_percent": "0",
        "pack": "20",
        "pack_words": "bundle",
        "lead_days": "6",
        "cover_days": "28",
        "service_percent": "98",
        "version": "1",
    }
    assert owner.post(url("add_material"), sent).status_code == 302
    carton = unit.materials.get()
    assert (carton.pack, carton.used_each) == (20, 1)
    assert owner.post(url("add_material"), sent).status_code == 409, "the name is taken"
    changed = owner.post(url("edit_material", carton.pk), {**sent, "pack": "25 pieces"})
    assert changed.status_code == 302
    carton.refresh_from_db()
    assert (carton.pack, carton.version) == (25, 2)
    late = owner.post(url("edit_material", carton.pk), {**sent, "name": "Crate"})
    assert late.status_code == 409
    assert "Somebody else saved this" in text(late)
    press(owner, "retire_material", carton.pk)
    assert not unit.materials.kept()
    assert "no longer used" in text(owner.get(url("stores"))).lower()
    press(owner, "bring_back_material", carton.pk)
    assert unit.materials.kept().get() == carton
    for name in ("retire_material", "bring_back_material"):
        assert owner.get(url(name, carton.pk)).status_code == 405
    assert owner.get(url("add_usual_materials")).status_code == 405


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"pack": "0"}, "A pack holds something."),
        ({"pack": "many"}, "Write an amount like"),
        ({"used_at": "pour"}, "A pour takes plaster, counted in grams."),
        ({"used_each": ""}, "Write how much goes each time."),
        ({"returns_percent": "50"}, "Only what a print takes comes back."),
        ({"service_percent": "100"}, "At most 99."),
        ({"lead_days": "400"}, "At most 365."),
        ({"name": ""}, "This is still needed."),
    ],
)
def test_a_material_that_makes_no_sense_comes_back_with_a_sentence(owner, unit, wrong, sentence):
    sent = {
        "kind": "fixing",
        "name": "Hangers",
        "measure": "piece",
        "used_at": "frame",
        "used_each": "2",
        "returns_percent": "0",
        "pack": "50",
        "pack_words": "box",
        "lead_days": "5",
        "cover_days": "28",
        "service_percent": "98",
        "version": "1",
    }
    response = owner.post(url("add_material"), {**sent, **wrong})
    assert response.status_code == 422
    assert sentence in text(response)
    assert not unit.materials.exists()


def test_a_delivery_is_received_once_by_owner_or_helper(owner, helper, plaster):
    today, key = timezone.localdate().isoformat(), uuid.uuid4()
    for _ in range(2):
        press(
            owner,
            "receive",
            plaster.pk,
            key=key,
            quantity="2 packs",
            cost_minor="43.98",
            received_on=today,
        )
    lot = plaster.lots.get()
    assert (lot.left, lot.cost_minor) == (50_000, 4398)
    press(helper, "receive", plaster.pk, quantity="1 pack", cost_minor="1", received_on=today)
    assert plaster.lots.last().cost_minor == 2199, "a helper's price is not asked for"
    wrong = press(owner, "receive", plaster.pk, quantity="some", received_on="2100-01-01")
    assert wrong.status_code == 422
    assert "Write an amount like 850 g or 12.5 kg or 2 packs." in text(wrong)
    assert "This day is still to come." in text(wrong)


def test_more_than_the_books_hold_comes_back_with_a_sentence(owner, plaster):
    lot = delivery(plaster, 300, 300)
    for name, of in (("use_by_hand", plaster), ("write_off", lot)):
        refused = press(owner, name, of.pk, quantity="1 kg", what="scrapped", why="Wet.")
        assert refused.status_code == 409
        assert "300 g" in text(refused)
        assert 'value="1 kg"' in text(refused)
    assert stock(plaster) == 300


def test_used_written_off_mended_and_priced_anew_by_their_forms(owner, unit, plaster):
    lot = delivery(plaster, 1000, 1000)
    job = makers.a_job(unit)
    assert press(owner, "use_by_hand", plaster.pk, quantity="100", job=job.pk).status_code == 302
    assert (
        press(
            owner, "write_off", lot.pk, quantity="100", what="sent_back", why="Lumpy."
        ).status_code
        == 302
    )
    assert (
        press(owner, "adjust_lot", lot.pk, left="700 g", seen=800, why="A slip.").status_code == 302
    )
    assert (
        press(
            owner, "correct_cost", lot.pk, cost_minor="20.00", seen_minor=1000, why="The invoice."
        ).status_code
        == 302
    )
    lot.refresh_from_db()
    assert (lot.left, lot.cost_minor) == (700, 2000)
    assert [m.what for m in StockMove.objects.filter(quantity__lt=0)] == [
        "used",
        "sent_back",
        "adjusted",
    ]
    for name in ("adjust_lot", "correct_cost", "write_off"):
        assert press(owner, name, lot.pk).status_code == 422


def test_an_order_is_noted_received_and_the_rest_waited_for_no_longer(owner, busy):
    today = timezone.localdate()
    page = owner.get(url("order_material", busy.pk))
    assert 'value="25 kg"' in text(page)
    assert 'value="22.06"' in text(page), "at the price of the lot before"
    key = uuid.uuid4()
    for _ in range(2):
        press(
            owner,
            "order_material",
            busy.pk,
            key=key,
            quantity="2 packs",
            cost_minor="44",
            ordered_on=today,
            expected_on=today + timedelta(days=4),
        )
    ordered = Purchase.objects.get()
    assert "On its way" in text(owner.get(url("purchases")))
    press(
        owner,
        "receive",
        busy.pk,
        quantity="1 pack",
        received_on=today,
        purchase=ordered.pk,
    )
    assert Lot.objects.last().cost_minor == 2200
    press(owner, "close_purchase", ordered.pk, why="Sold out.")
    ordered.refresh_from_db()
    assert (ordered.arrived, ordered.closed_why) == (25_000, "Sold out.")
    wrong = press(
        owner,
        "order_material",
        busy.pk,
        quantity="1",
        cost_minor="1",
        ordered_on=today,
        expected_on=today - timedelta(days=1),
    )
    assert "It cannot come before it was ordered." in text(wrong)


# --- the stock take ---------------------------------------------------------------------------------------------------


def counting(of, said, **more):
    return {f"count_{of.pk}": said, f"seen_{of.pk}": stock(of), **more}


def test_a_count_shows_the_differences_first_and_writes_them_at_the_second_press(owner, plaster):
    delivery(plaster, 10_000, 1000)
    key = uuid.uuid4()
    shown = press(owner, "count_stock", key=key, **counting(plaster, "9 kg"))
    assert shown.status_code == 200
    assert "1.00 kg less" in text(shown)
    assert "Nothing is written down yet" in text(shown)
    assert text(shown).count("autofocus") == 1, "the differences take the focus"
    assert str(key) in text(shown), "the second press is the same count"
    assert stock(plaster) == 10_000
    for _ in range(2):
        sent = {f"count_{plaster.pk}": "9 kg", f"seen_{plaster.pk}": 10_000, "sure": "on"}
        assert press(owner, "count_stock", key=key, **sent).status_code == 302
    assert stock(plaster) == 9000
    said = text(owner.get(url("stores")))
    assert "1 material counted: Casting plaster, 1.00 kg less." in said


def test_a_count_that_agrees_is_written_at_once(helper, plaster):
    delivery(plaster, 10_000, 1000)
    assert press(helper, "count_stock", **counting(plaster, "10 kg")).status_code == 302
    assert "the books agree" in text(helper.get(url("stores")))
    assert status_of(plaster).counted_on == timezone.localdate()


def test_a_count_of_nothing_or_of_no_amount_comes_back(owner, plaster):
    assert "Write at least one count." in text(press(owner, "count_stock"))
    wrong = press(owner, "count_stock", **counting(plaster, "a lot"))
    assert wrong.status_code == 422
    assert 'value="a lot"' in text(wrong)


def test_a_count_that_somebody_overtook_comes_back_with_what_the_books_hold_now(owner, plaster, by):
    delivery(plaster, 10_000, 1000)
    sent = counting(plaster, "9 kg", sure="on")
    actions.use_by_hand(plaster, quantity=500, **facts(by))
    told = press(owner, "count_stock", **sent)
    assert told.status_code == 409
    assert "something was used or came in since" in text(told)
    assert 'value="9500"' in text(told)
    assert 'value="9 kg"' in text(told)
    assert stock(plaster) == 9500


def test_nothing_to_count_says_so(owner, unit):
    assert "There is nothing to count yet" in text(owner.get(url("count_stock")))
    assert Material.objects.count() == 0
