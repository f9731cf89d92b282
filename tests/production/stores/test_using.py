"""The work itself takes from the stores, and what comes back goes back."""

import uuid
from datetime import timedelta

import pytest
from django.utils import timezone

from bookings.diary import actions as diary_actions
from bookings.sittings import actions as sittings_actions
from bookings.sittings.models import ClayPrint
from orders.order_page.actions import call_off, hand_over
from orders.payments.actions import release_on_account
from production.bench import actions as bench_actions
from production.bench import framing, weighing
from production.casts.models import Cast
from production.stock import usage
from production.stock.costs import material_costs
from production.stock.models import StockMove
from studio.jobs.actions import leave_off_piece
from studio.stages import Stage
from tests import makers
from tests.production.stores.conftest import (
    BOX,
    FINE,
    GLASS,
    OAK,
    delivery,
    facts,
    material,
    stock,
    tied_up,
)

pytestmark = pytest.mark.django_db


def used_for(job, of):
    return -sum(
        job.stock_moves.filter(lot__material=of, what__in=("used", "returned")).values_list(
            "quantity", flat=True
        )
    )


def test_a_pour_takes_what_was_weighed_out_of_the_oldest_lot(unit, plaster):
    old, new = delivery(plaster, 300, 300), delivery(plaster, 25_000, 2199, days_ago=30)
    job = makers.job_at(Stage.CASTING, unit)  # 538 g
    old.refresh_from_db()
    new.refresh_from_db()
    assert (old.left, old.left_minor, new.left) == (0, 0, 24_762)
    assert used_for(job, plaster) == 538
    assert material_costs([job])[job.pk] == 300 + 21  # 238 g of a lot of 25 kg at 21.99


def test_a_pour_of_two_jobs_is_shared_by_what_their_pieces_need(unit, plaster, by):
    delivery(plaster, 25_000, 2000)
    jobs = [makers.job_at(Stage.CLAY_REST, unit, pieces=number) for number in (1, 3)]
    pieces = [piece for job in jobs for piece in job.pieces.all()]
    bench_actions.pour(
        unit, pieces=pieces, plaster_g=1001, water_g=700, consistency=70, **facts(by)
    )
    shares = [used_for(job, plaster) for job in jobs]
    assert sum(shares) == 1001
    assert 2 < shares[1] / shares[0] < 5
    costs = material_costs(jobs)
    assert sum(costs.values()) + tied_up(plaster) == 2000


def test_a_pour_of_a_certain_plaster_takes_that_one_else_the_one_for_any(unit, plaster, by):
    alpha, beta = (unit.plasters.create(name=name) for name in ("Alpha", "Beta"))
    sacks = material(unit, FINE, name="Alpha in sacks", plaster=alpha)
    for each in (plaster, sacks):
        delivery(each, 25_000, 2000)
    job = makers.job_at(Stage.CLAY_REST, unit)
    for kind in (alpha, beta, None):
        poured = unit.pours.create(
            poured_at=timezone.now(),
            consistency=70,
            plaster_g=100,
            water_g=70,
            plaster=kind,
            by=by,
        )
        usage.use_for_pour(poured, [(job, 100.0)], **facts(by))
    assert (stock(plaster), stock(sacks)) == (24_800, 24_900)


def test_the_same_pour_twice_takes_once(unit, plaster, by):
    delivery(plaster, 25_000, 2000)
    job = makers.job_at(Stage.CLAY_REST, unit)
    key = uuid.uuid4()
    for _ in range(2):
        bench_actions.pour(
            unit,
            pieces=job.pieces.all(),
            plaster_g=500,
            water_g=350,
            consistency=70,
            **facts(by, key=key),
        )
    assert stock(plaster) == 24_500


def test_a_pour_beyond_the_books_is_written_down_as_found_and_never_below_nothing(unit, plaster):
    lot = delivery(plaster, 400, 800)
    job = makers.job_at(Stage.CASTING, unit)
    lot.refresh_from_db()
    assert (lot.left, lot.left_minor) == (0, 0)
    found = StockMove.objects.get(what="found")
    assert (found.quantity, found.value_minor, found.job) == (138, 276, None)
    assert job.display_reference in found.why
    assert material_costs([job])[job.pk] == 800 + 276


def test_a_studio_without_stores_pours_all_the_same(unit):
    job = makers.job_at(Stage.HANDED_OVER, unit)
    assert not unit.stock_moves.exists()
    assert material_costs([job])[job.pk] == 0


def test_a_retired_plaster_is_not_taken(unit, plaster, by):
    from production.stores import actions  # noqa: PLC0415

    actions.retire_material(plaster, at=timezone.now())
    makers.job_at(Stage.CASTING, unit)
    assert not unit.stock_moves.exists()


def test_clay_goes_out_with_the_print_and_back_at_the_demoulding_less_what_stuck(unit, clay):
    delivery(clay, 10_000, 1500)
    job = makers.job_at(Stage.CASTING, unit)
    assert stock(clay) == 10_000 - 2 * 900
    makers.demould_all(job, makers.owner_of(unit), timezone.now())
    assert stock(clay) == 10_000 - 2 * 45
    assert used_for(job, clay) == 90
    assert material_costs([job])[job.pk] + tied_up(clay) == 1500
    assert 12 <= material_costs([job])[job.pk] <= 16  # 90 g of 10 kg at 15.00


def test_a_sitting_opened_again_gives_its_clay_back_whole_and_takes_it_anew(unit, clay, by):
    delivery(clay, 10_000, 1500)
    job = makers.job_at(Stage.CLAY_REST, unit)
    sitting = job.sittings.get()
    for _ in range(2):
        assert stock(clay) == 8200
        sittings_actions.reopen_sitting(sitting, **facts(by))
        assert (stock(clay), tied_up(clay)) == (10_000, 1500)
        sittings_actions.finish_sitting(sitting, put_off="leave", **facts(by))
    assert stock(clay) == 8200


def test_a_lost_print_gives_its_clay_back_and_the_next_one_takes_its_own(unit, clay, by):
    delivery(clay, 10_000, 1500)
    job = makers.job_at(Stage.CASTING, unit, pieces=1)
    cast = Cast.objects.get()
    bench_actions.spoil_piece(cast, how="smudge", why="The cat.", print_whole=False, **facts(by))
    assert stock(clay) == 10_000 - 45
    assert not ClayPrint.objects.taken().exists()
    job.refresh_from_db()
    diary_actions.book_again(
        job,
        starts_at=makers.next_morning(unit, timezone.now()),
        minutes=45,
        **facts(by),
    )
    makers.take_prints(job, by, timezone.now())
    assert stock(clay) == 10_000 - 45 - 900


def test_a_print_poured_twice_gives_its_clay_back_once(unit, clay, by):
    delivery(clay, 10_000, 1500)
    job = makers.job_at(Stage.DRYING, unit, pieces=1)
    assert stock(clay) == 10_000 - 45
    bench_actions.spoil_piece(
        Cast.objects.get(), how="bubble", why="A bubble.", print_whole=True, **facts(by)
    )
    job.refresh_from_db()
    makers.pour_all(job, by, timezone.now())
    makers.demould_all(job, by, timezone.now())
    assert stock(clay) == 10_000 - 45


def test_the_clay_of_a_job_called_off_or_a_piece_left_off_goes_back(unit, clay, by):
    delivery(clay, 10_000, 1500)
    job = makers.job_at(Stage.CLAY_REST, unit)
    leave_off_piece(job.pieces.first(), why="Twins fell out.", **facts(by))
    assert stock(clay) == 10_000 - 900 - 45
    call_off(job, seen=Stage.CLAY_REST, keep_minor=0, why="They moved away.", **facts(by))
    assert stock(clay) == 10_000 - 2 * 45


def test_a_frame_takes_its_moulding_once_and_glass_only_behind_glass(unit, by):
    oak, glass, box = (material(unit, of) for of in (OAK, GLASS, BOX))
    for each in (oak, glass, box):
        delivery(each, each.pack, 1999)
    job = makers.job_at(Stage.FRAMING, unit)
    assert (used_for(job, oak), used_for(job, glass), used_for(job, box)) == (1303, 75_000, 0)
    open_one = makers.job_at(Stage.DRYING, unit)
    for cast in Cast.objects.whole().filter(piece__job=open_one):
        weighing.release_dry(cast, why="It rings.", **facts(by))
    framing.start_framing(open_one, seen=Stage.DRYING, glazed=False, **facts(by))
    assert (used_for(open_one, oak), used_for(open_one, glass)) == (1303, 0)


def test_going_home_takes_one_carton_however_often_it_is_said(unit, by):
    box = material(unit, BOX)
    delivery(box, 20, 999)
    job = makers.job_at(Stage.READY, unit)
    release_on_account(job.order, why="Grandfather pays.", **facts(by))
    key = uuid.uuid4()
    for _ in range(2):
        hand_over(job, seen=Stage.READY, **facts(by, key=key))
    assert stock(box) == 19


def test_what_a_refused_step_would_take_is_not_taken(unit, plaster, by):
    delivery(plaster, 25_000, 2000)
    job = makers.job_at(Stage.CASTING, unit)
    before = StockMove.objects.count()
    with pytest.raises(Exception, match="Poured already"):
        bench_actions.pour(
            unit,
            pieces=job.pieces.all(),
            plaster_g=500,
            water_g=350,
            consistency=70,
            **facts(by),
        )
    assert StockMove.objects.count() == before


def test_all_money_is_somewhere_after_a_whole_life(unit, clay, plaster, by):
    shelf = [clay, plaster, *(material(unit, of) for of in (OAK, GLASS, BOX))]
    for number, each in enumerate(shelf):
        delivery(each, each.pack, 1999 + number)
        delivery(each, each.pack, 777 + number, days_ago=20)
    jobs = [makers.job_at(Stage.HANDED_OVER, unit, pieces=pieces) for pieces in (1, 2, 4)]
    jobs.append(makers.job_at(Stage.DRYING, unit, at=timezone.now() + timedelta(days=1)))
    spent = sum(material_costs(jobs).values())
    assert spent > 300
    assert spent + sum(tied_up(each) for each in shelf) == sum(
        1999 + 777 + 2 * number for number in range(len(shelf))
    )
