"""What people do in the stores: received, used, counted, mended, thrown away, ordered."""

import uuid
from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils import timezone
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis
from hypothesis import strategies as st

from production.stock.costs import material_costs
from production.stock.models import Lot, StockMove
from production.stores import actions
from studio.stages import ActionRefused, MoveRefused, Stage
from studio.versions import EditedMeanwhile
from tests import makers
from tests.production.stores.conftest import BOX, FINE, delivery, facts, material, stock, tied_up

pytestmark = pytest.mark.django_db


def counted(of, quantity, seen=None):
    return actions.Counted(of, quantity, stock(of) if seen is None else seen)


# --- receiving --------------------------------------------------------------------------------------------------------


def test_a_delivery_is_a_lot_of_its_own_and_one_line_however_often_it_is_sent(plaster, by):
    today, key = timezone.localdate(), uuid.uuid4()
    lots = [
        actions.receive(
            plaster,
            quantity=50_000,
            cost_minor=3998,
            received_on=today,
            best_before=today + timedelta(days=180),
            label="sack 3 and 4",
            **facts(by, key=key),
        )
        for _ in range(2)
    ]
    assert lots[0] == lots[1]
    assert (lots[0].left, lots[0].left_minor, lots[0].label) == (50_000, 3998, "sack 3 and 4")
    assert [(m.what, m.quantity, m.value_minor) for m in lots[0].moves.all()] == [
        ("received", 50_000, 3998)
    ]


def test_a_delivery_without_a_price_takes_that_of_its_order_or_of_the_lot_before(plaster, by):
    assert delivery(plaster, 25_000, None, days_ago=90).cost_minor == 0
    delivery(plaster, 25_000, 2199)
    assert delivery(plaster, 50_000, None, days_ago=30).cost_minor == 4398
    ordered = order(plaster, by, quantity=50_000, cost_minor=5000)
    first = delivery(plaster, 25_000, None, days_ago=1, purchase=ordered)
    ordered.refresh_from_db()
    assert (first.cost_minor, ordered.to_come, ordered.closed_at) == (2500, 25_000, None)
    delivery(plaster, 25_000, None, days_ago=0, purchase=ordered)
    ordered.refresh_from_db()
    assert ordered.to_come == 0
    assert ordered.closed_why == "It came in full."


def test_nothing_cannot_be_received_nor_something_of_another_order(plaster, clay, by):
    with pytest.raises(ActionRefused, match="how much came"):
        delivery(plaster, 0, 0)
    with pytest.raises(ActionRefused, match="another material"):
        delivery(plaster, 5, 5, purchase=order(clay, by))
    assert not Lot.objects.exists()


# --- using and throwing away ------------------------------------------------------------------------------------------


def test_what_is_used_by_hand_for_a_job_costs_it(unit, by):
    box = material(unit, BOX, used_at="hand")
    delivery(box, 20, 2000)
    job = makers.a_job(unit)
    key = uuid.uuid4()
    for _ in range(2):
        actions.use_by_hand(box, quantity=3, job=job, why="Extra wrap.", **facts(by, key=key))
    assert stock(box) == 17
    assert material_costs([job])[job.pk] == 300


def test_more_than_the_books_hold_is_refused_with_a_sentence(plaster, by):
    lot = delivery(plaster, 300, 300)
    with pytest.raises(ActionRefused, match="The books hold 300 g of Casting plaster, not 301 g"):
        actions.use_by_hand(plaster, quantity=301, **facts(by))
    with pytest.raises(ActionRefused, match="This lot of Casting plaster holds 300 g"):
        actions.write_off(lot, quantity=301, why="Wet.", **facts(by))
    with pytest.raises(ActionRefused, match="how much was used"):
        actions.use_by_hand(plaster, quantity=0, **facts(by))
    with pytest.raises(ActionRefused, match="how much of it goes"):
        actions.write_off(lot, quantity=-1, why="Wet.", **facts(by))
    assert stock(plaster) == 300
    assert StockMove.objects.count() == 1


def test_the_database_refuses_less_than_nothing_and_money_in_an_empty_lot(plaster):
    lot = delivery(plaster, 300, 300)
    for wrong in ({"left": F("left") - 301}, {"left_minor": F("left_minor") - 301}, {"left": 0}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Lot.objects.filter(pk=lot.pk).update(**wrong)


def test_nothing_is_used_for_a_job_that_was_called_off(unit, plaster, by):
    delivery(plaster, 300, 300)
    job = makers.job_at(Stage.CALLED_OFF, unit)
    with pytest.raises(MoveRefused, match="called off"):
        actions.use_by_hand(plaster, quantity=1, job=job, **facts(by))


def test_a_wet_sack_is_thrown_away_or_sent_back_with_the_reason(plaster, by):
    lot = delivery(plaster, 25_000, 2200)
    key = uuid.uuid4()
    for _ in range(2):
        actions.write_off(lot, quantity=5000, why="Got wet.", **facts(by, key=key))
    actions.write_off(lot, quantity=20_000, what="sent_back", why="Lumpy.", **facts(by))
    assert (stock(plaster), tied_up(plaster)) == (0, 0)
    assert [m.value_minor for m in StockMove.objects.all()] == [2200, -440, -1760]
    with pytest.raises(ActionRefused, match="why it goes"):
        actions.write_off(lot, quantity=1, why=" ", **facts(by))
    with pytest.raises(ActionRefused, match="thrown away or sent back"):
        actions.write_off(lot, quantity=1, what="used", why="x", **facts(by))


# --- mending the books ------------------------------------------------------------------------------------------------


def test_a_slip_in_a_lot_is_mended_up_and_down(plaster, by):
    lot = delivery(plaster, 20_000, 2000)
    actions.adjust_lot(lot, left=25_000, seen=20_000, why="It was a whole sack.", **facts(by))
    assert (stock(plaster), tied_up(plaster)) == (25_000, 2500)
    key = uuid.uuid4()
    for _ in range(2):
        actions.adjust_lot(lot, left=10_000, seen=25_000, why="Two sacks.", **facts(by, key=key))
    assert (stock(plaster), tied_up(plaster)) == (10_000, 1000)
    for left, seen, why, sentence in (
        (1, 9_000, "x", "somebody used of it since"),
        (10_000, 10_000, "x", "if it differs"),
        (-1, 10_000, "x", "if it differs"),
        (1, 10_000, "", "what was wrong"),
    ):
        with pytest.raises(ActionRefused, match=sentence):
            actions.adjust_lot(lot, left=left, seen=seen, why=why, **facts(by))


def test_another_cost_reaches_every_job_that_used_of_the_lot(unit, plaster, by):
    lot = delivery(plaster, 1000, 1000)
    jobs = [makers.a_job(unit) for _ in range(2)]
    for job, quantity in zip(jobs, (100, 300), strict=True):
        actions.use_by_hand(plaster, quantity=quantity, job=job, **facts(by))
    actions.write_off(lot, quantity=200, why="Wet.", **facts(by))
    key = uuid.uuid4()
    for _ in range(2):
        actions.correct_cost(
            lot, cost_minor=1500, seen_minor=1000, why="The invoice.", **facts(by, key=key)
        )
    assert list(material_costs(jobs).values()) == [150, 450]
    assert tied_up(plaster) == 600
    for cost, seen, why, sentence in (
        (1, 1000, "x", "corrected the cost of this lot since"),
        (1500, 1500, "x", "what the books say"),
        (1, 1500, "", "where the other cost comes from"),
    ):
        with pytest.raises(ActionRefused, match=sentence):
            actions.correct_cost(lot, cost_minor=cost, seen_minor=seen, why=why, **facts(by))


@pytest.fixture
def four_jobs(unit):
    return [makers.a_job(unit) for _ in range(4)]


@given(
    st.integers(0, 10**6),
    st.integers(0, 10**6),
    st.lists(st.integers(1, 400), max_size=4),
)
@hypothesis(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_another_cost_loses_no_penny(unit, four_jobs, by, cost, other, used):
    of = material(unit, FINE, name=str(uuid.uuid4()), used_at="hand")
    lot = delivery(of, 1600, cost)
    before = sum(material_costs(four_jobs).values())
    for job, quantity in zip(four_jobs, used, strict=False):
        actions.use_by_hand(of, quantity=quantity, job=job, **facts(by))
    if cost != other:
        actions.correct_cost(lot, cost_minor=other, seen_minor=cost, why="x", **facts(by))
    assert sum(material_costs(four_jobs).values()) - before + tied_up(of) == other
    assert tied_up(of) >= 0


# --- counting ---------------------------------------------------------------------------------------------------------


def test_a_stock_take_writes_every_difference_and_that_the_rest_agreed(unit, plaster, clay, by):
    delivery(plaster, 10_000, 1000)
    delivery(plaster, 10_000, 2000, days_ago=5)
    delivery(clay, 10_000, 1500)
    box = material(unit, BOX)
    found = actions.count_stock(
        unit,
        counts=[counted(plaster, 8000), counted(clay, 10_500), counted(box, 0)],
        **facts(by),
    )
    assert [(d.material, d.quantity, d.value_minor) for d in found] == [
        (plaster, -12_000, -1400),
        (clay, 500, 75),
        (box, 0, 0),
    ]
    assert (stock(plaster), tied_up(plaster)) == (8000, 1600)
    assert (stock(clay), tied_up(clay)) == (10_500, 1575)
    assert actions.count_stock(unit, counts=[counted(clay, 10_500)], **facts(by))[0].quantity == 0
    assert clay.lots.get().moves.filter(what="counted").count() == 2


def test_what_was_there_before_the_books_begins_a_lot_that_cost_nothing(unit, plaster, by):
    actions.count_stock(unit, counts=[counted(plaster, 12_000)], **facts(by))
    lot = plaster.lots.get()
    assert (lot.left, lot.cost_minor, lot.label) == (12_000, 0, "was there before the books")


def test_a_count_is_refused_whole_where_somebody_used_something_since(unit, plaster, clay, by):
    delivery(plaster, 10_000, 1000)
    delivery(clay, 10_000, 1000)
    before = [counted(plaster, 9000), counted(clay, 9000)]
    actions.use_by_hand(plaster, quantity=500, **facts(by))
    with pytest.raises(ActionRefused, match="Casting plaster: something was used") as told:
        actions.count_stock(unit, counts=before, **facts(by))
    assert len(told.value.reasons) == 1
    assert (stock(plaster), stock(clay)) == (9500, 10_000)


def test_the_same_count_sent_twice_is_one(unit, plaster, by):
    delivery(plaster, 10_000, 1000)
    counts, key = [counted(plaster, 9000)], uuid.uuid4()
    for _ in range(2):
        actions.count_stock(unit, counts=counts, **facts(by, key=key))
    assert stock(plaster) == 9000
    assert StockMove.objects.filter(what="counted").count() == 1


# --- the ledger -------------------------------------------------------------------------------------------------------

STEPS = st.lists(
    st.tuples(
        st.sampled_from(["receive", "use", "beyond", "count", "adjust", "scrap"]),
        st.integers(1, 5000),
    ),
    min_size=1,
    max_size=12,
)


def one_step(of, by, step, quantity):
    lot = of.lots.order_by("pk").last()
    if step == "receive":
        delivery(of, quantity, quantity * 7 % 997, days_ago=0)
    elif step == "use":
        actions.use_by_hand(of, quantity=quantity, **facts(by))
    elif step == "beyond":
        with transaction.atomic():
            note = actions.Note(by, timezone.now(), uuid.uuid4())
            actions.withdraw(of, quantity, what=actions.What.USED, note=note, beyond=True)
    elif step == "count":
        actions.count_stock(of.unit, counts=[counted(of, quantity)], **facts(by))
    elif step == "adjust" and lot:
        actions.adjust_lot(lot, left=quantity, seen=lot.left, why="x", **facts(by))
    elif lot:
        actions.write_off(lot, quantity=quantity, why="x", **facts(by))


@given(STEPS)
@hypothesis(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_the_sum_of_the_moves_is_what_is_there_and_nothing_falls_below_nothing(unit, steps):
    of, by = material(unit, FINE, name=str(uuid.uuid4()), used_at="hand"), makers.owner_of(unit)
    for step, quantity in steps:
        before = list(StockMove.objects.filter(lot__material=of).values_list("pk", flat=True))
        try:
            one_step(of, by, step, quantity)
        except ActionRefused:
            after = StockMove.objects.filter(lot__material=of).values_list("pk", flat=True)
            assert list(after) == before
        for lot in of.lots.all():
            moves = list(lot.moves.all())
            assert lot.left == sum(move.quantity for move in moves) >= 0
            assert lot.left_minor == sum(move.value_minor for move in moves) >= 0


def test_the_ledger_is_only_added_to(plaster):
    line = delivery(plaster, 300, 300).moves.get()
    with pytest.raises(TypeError, match="only ever added to"):
        line.save()
    with pytest.raises(TypeError, match="only ever added to"):
        line.delete()


@pytest.mark.parametrize(
    ("what", "quantity", "value_minor", "why"),
    [
        ("used", 1, 1, ""),
        ("received", -1, 0, ""),
        ("scrapped", -1, 0, ""),
        ("adjusted", 1, 0, ""),
        ("returned", 1, -1, ""),
    ],
)
def test_a_line_that_goes_the_wrong_way_or_lacks_its_reason_is_no_line(
    unit, plaster, what, quantity, value_minor, why
):
    lot = delivery(plaster, 300, 300)
    with pytest.raises(IntegrityError), transaction.atomic():
        StockMove.objects.create(
            unit=unit,
            lot=lot,
            what=what,
            quantity=quantity,
            value_minor=value_minor,
            why=why,
            at=timezone.now(),
        )


# --- materials and orders ---------------------------------------------------------------------------------------------


def order(of, by, *, quantity=25_000, cost_minor=2199, days=5, key=None):
    today = timezone.localdate()
    return actions.order_material(
        of,
        quantity=quantity,
        cost_minor=cost_minor,
        ordered_on=today,
        expected_on=today + timedelta(days=days),
        by=by,
        key=key or uuid.uuid4(),
    )


def test_an_order_is_noted_once_and_closed_with_its_reason(plaster, by):
    key = uuid.uuid4()
    ordered = order(plaster, by, key=key)
    assert order(plaster, by, key=key) == ordered
    assert list(plaster.purchases.on_their_way()) == [ordered]
    with pytest.raises(ActionRefused, match="why it does not come"):
        actions.close_purchase(ordered, why="", at=timezone.now())
    for why in ("Sold out.", "Again."):
        closed = actions.close_purchase(ordered, why=why, at=timezone.now())
    assert (closed.closed_why, closed.to_come) == ("Sold out.", 0)
    with pytest.raises(ActionRefused, match="how much was ordered"):
        order(plaster, by, quantity=0)
    with pytest.raises(ActionRefused, match="before it was ordered"):
        order(plaster, by, days=-1)


def test_a_material_is_edited_by_one_at_a_time_and_keeps_its_base_unit(plaster):
    actions.edit_material(plaster, facts={"name": "Fine plaster"}, seen_version=1)
    with pytest.raises(EditedMeanwhile):
        actions.edit_material(plaster, facts={"name": "Other"}, seen_version=1)
    delivery(plaster, 1, 1)
    with pytest.raises(ActionRefused, match="in the books in grams"):
        actions.edit_material(plaster, facts={"measure": "piece"}, seen_version=2)


def test_a_material_retires_when_it_is_used_up_and_comes_back_if_its_place_is_free(
    unit, plaster, by
):
    lot = delivery(plaster, 300, 300)
    with pytest.raises(ActionRefused, match="still hold 300 g"):
        actions.retire_material(plaster, at=timezone.now())
    actions.write_off(lot, quantity=300, why="Old.", **facts(by))
    assert actions.retire_material(plaster, at=timezone.now()).retired_at
    other = material(unit, FINE, name="Alpha plaster")
    with pytest.raises(ActionRefused, match="Alpha plaster is taken for these pours"):
        actions.bring_back_material(plaster)
    actions.retire_material(other, at=timezone.now())
    assert actions.bring_back_material(plaster).retired_at is None
    actions.retire_material(plaster, at=timezone.now())
    material(unit, FINE)
    with pytest.raises(ActionRefused, match="give one of them another name"):
        actions.bring_back_material(plaster)


def test_a_material_on_its_way_does_not_retire_and_a_retired_one_neither_comes_nor_is_ordered(
    plaster, by
):
    """Else nobody would ask for what was ordered, nor count what came."""
    ordered = order(plaster, by)
    with pytest.raises(ActionRefused, match="on its way"):
        actions.retire_material(plaster, at=timezone.now())
    actions.close_purchase(ordered, why="Sold out.", at=timezone.now())
    actions.retire_material(plaster, at=timezone.now())
    for press in (lambda: delivery(plaster, 300, 300), lambda: order(plaster, by)):
        with pytest.raises(ActionRefused, match="no longer used"):
            press()


@pytest.mark.parametrize(
    "wrong",
    [
        {"pack": 0},
        {"measure": "piece"},
        {"returns_percent": 50},
        {"service_percent": 100},
        {"lead_days": 400},
        {"used_at": "frame", "used_each": 0},
    ],
)
def test_a_material_that_makes_no_sense_is_none(unit, wrong):
    with pytest.raises(IntegrityError), transaction.atomic():
        material(unit, FINE, **wrong)


def test_one_material_is_taken_for_pours_of_a_plaster(unit, plaster):
    kind = unit.plasters.create(name="Alpha")
    material(unit, FINE, name="Alpha in sacks", plaster=kind)
    for twice in (None, kind):
        with pytest.raises(ActionRefused, match="is taken for these pours now"):
            material(unit, FINE, name="Another", plaster=twice)
        with pytest.raises(IntegrityError), transaction.atomic():
            unit.materials.create(**{**FINE, "name": "Another"}, plaster=twice)
    with pytest.raises(ActionRefused, match="Another Casting plaster stands in your stores"):
        material(unit, FINE)


def test_the_usual_materials_are_added_beside_what_is_there(unit, plaster):
    added = actions.add_usual_materials(unit)
    assert len(added) > 6
    assert {each.kind for each in added} == set(actions.Material.Kind.values) - {"plaster"}
    assert actions.add_usual_materials(unit) == []
