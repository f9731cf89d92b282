"""Several people take from one lot in the same moment; the control shows that the test can see a fault."""

import threading
import uuid

import pytest
from django.utils import timezone

from production.bench import actions as bench_actions
from production.frames import actions as frames
from production.stock import moves, valuation
from production.stock.models import StockMove
from production.stores import actions
from studio.stages import ActionRefused, Stage
from tests import makers
from tests.crowd import PATIENCE_S, at_once, everybody
from tests.production.stores.conftest import FINE, OAK, OATMEAL, delivery, facts, material, stock

PEOPLE = 6


@pytest.fixture
def unit(transactional_db):
    return makers.a_unit()


@pytest.fixture
def by(unit):
    return makers.owner_of(unit)


def adds_up(of):
    return all(
        lot.left == sum(lot.moves.values_list("quantity", flat=True)) >= 0 for lot in of.lots.all()
    )


def test_of_six_who_take_from_one_lot_as_many_do_as_it_holds_and_the_others_are_told(unit, by):
    plaster = material(unit, FINE)
    delivery(plaster, 1000, 1000)
    came = everybody(PEOPLE, lambda _: actions.use_by_hand(plaster, quantity=300, **facts(by)))
    told = [each for each in came if isinstance(each, ActionRefused)]
    assert (len(told), stock(plaster)) == (PEOPLE - 3, 100)
    assert all("The books hold 100 g" in str(each) for each in told)
    assert adds_up(plaster)


def test_of_the_last_bar_a_cutting_and_another_use_are_never_both_written(unit, by):
    oak, job = makers.frame_range(unit), makers.job_at(Stage.DRYING, unit)
    oak.offcuts.update(gone_at=timezone.now())
    bars = material(unit, OAK, used_at="hand")
    delivery(bars, oak.stock_mm, 1200)
    frames.edit_moulding(oak, facts={"material": bars}, seen_version=oak.version)
    came = at_once(
        lambda: makers.cut(job, by=by),
        lambda: actions.use_by_hand(bars, quantity=500, why="a sample", **facts(by)),
    )
    told = [each for each in came if isinstance(each, ActionRefused)]
    assert len(told) == 1
    assert stock(bars) == (0 if came[1] is told[0] else oak.stock_mm - 500)
    assert adds_up(bars)
    assert not StockMove.objects.filter(what="found").exists()


def test_without_the_lock_the_same_race_goes_wrong(unit, by, monkeypatch):
    """Two who look before either writes: both lines stand, and the lot knows of one."""
    plaster = material(unit, FINE)
    delivery(plaster, 1000, 1000)
    both_have_looked, looked = threading.Barrier(2), valuation.first_in_first_out

    def look(*args):
        both_have_looked.wait(timeout=PATIENCE_S)
        return looked(*args)

    monkeypatch.setattr(valuation, "first_in_first_out", look)

    def take(_number):
        note = moves.Note(by, timezone.now(), uuid.uuid4())
        moves.withdraw(plaster, 700, what=moves.What.USED, note=note)

    assert everybody(2, take) == [None, None]
    assert not adds_up(plaster)


def test_six_pours_beyond_the_books_find_what_they_lack_and_no_more(unit, by):
    plaster, clay = material(unit, FINE), material(unit, OATMEAL)
    delivery(clay, 50_000, 1000)
    delivery(plaster, 1000, 1000)
    jobs = [makers.job_at(Stage.CLAY_REST, unit, pieces=1) for _ in range(PEOPLE)]
    pieces = [list(job.pieces.all()) for job in jobs]

    def pour(number):
        return bench_actions.pour(
            unit,
            pieces=pieces[number],
            plaster_g=300,
            water_g=210,
            consistency=70,
            **facts(by),
        )

    came = everybody(PEOPLE, pour)
    assert not [each for each in came if isinstance(each, Exception)]
    found = StockMove.objects.filter(what="found").values_list("quantity", flat=True)
    assert (stock(plaster), sum(found)) == (0, PEOPLE * 300 - 1000)
    assert adds_up(plaster)


def test_counts_and_uses_of_two_materials_never_wait_for_each_other(unit, by):
    shelf = [material(unit, FINE, name=name, used_at="hand") for name in ("first", "second")]
    for each in shelf:
        delivery(each, 100_000, 1000)
    job = makers.job_at(Stage.BOOKED, unit)

    def work(number):
        of = shelf[:: 1 if number % 2 else -1]
        if number < 2:
            counts = [actions.Counted(each, 90_000, 100_000) for each in of]
            return actions.count_stock(unit, counts=counts, **facts(by))
        return [actions.use_by_hand(each, quantity=5, job=job, **facts(by)) for each in of]

    came = everybody(PEOPLE, work)
    assert not [
        each for each in came if isinstance(each, Exception) and not isinstance(each, ActionRefused)
    ]
    assert all(adds_up(each) for each in shelf)


def test_one_delivery_sent_six_times_by_its_key_is_one_lot(unit, by):
    plaster, key = material(unit, FINE), uuid.uuid4()

    def come(_number):
        return actions.receive(
            plaster,
            quantity=25_000,
            cost_minor=2199,
            received_on=timezone.localdate(),
            **facts(by, key=key),
        ).pk

    assert len(set(everybody(PEOPLE, come))) == 1
    assert stock(plaster) == 25_000
