"""From the clay to the rack: pours of several jobs, the gates, spoiled pieces, a full rack."""

import uuid
from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from bookings.diary import actions as diary_actions
from production.bench import actions, page, weighing
from production.bench import framing as bench_framing
from production.casts import pieces as casts_pieces
from production.casts.models import Cast, Pour
from studio.jobs import actions as jobs_actions
from studio.stages import ActionRefused, MoveRefused, Stage, missing
from tests import makers
from tests.makers import details
from tests.production.conftest import casts_of, press

GOOD = {"plaster_g": 269, "water_g": 188, "consistency": 70}


@pytest.fixture
def by(owner):
    return owner.user


def facts(by):
    return {"by": by, "at": timezone.now(), "key": uuid.uuid4()}


def pour(unit, by, *pieces, **mix):
    return actions.pour(unit, pieces=pieces, **{**GOOD, **mix}, **facts(by))


def spoil(cast, by, *, whole):
    return actions.spoil_piece(
        cast, how="bubble", why="a hole in the thumb", print_whole=whole, **facts(by)
    )


def test_one_pour_fills_the_prints_of_two_jobs(unit, by, in_clay):
    other = makers.job_at(Stage.CLAY_REST, unit)
    pieces = [*in_clay.pieces.all(), *other.pieces.all()]
    poured = pour(unit, by, *pieces)
    assert poured.casts.count() == 4
    for job in (in_clay, other):
        job.refresh_from_db()
        assert job.stage == Stage.CASTING
        assert job.events.filter(what="pour").count() == 1


def test_a_job_waits_in_the_clay_until_its_last_piece_is_poured(unit, by, in_clay):
    first, last = in_clay.pieces.all()
    pour(unit, by, first)
    in_clay.refresh_from_db()
    assert in_clay.stage == Stage.CLAY_REST
    assert missing(in_clay, Stage.CASTING) == ["Not poured yet: Ada, right hand."]
    pour(unit, by, last)
    in_clay.refresh_from_db()
    assert in_clay.stage == Stage.CASTING


def test_a_job_waits_in_the_mould_until_its_last_piece_is_out(by, in_mould):
    first, last = casts_of(in_mould)
    actions.demould(first, **facts(by))
    in_mould.refresh_from_db()
    assert in_mould.stage == Stage.CASTING
    assert missing(in_mould, Stage.DRYING) == ["Still in the mould: Ada, right hand."]
    actions.demould(last, **facts(by))
    in_mould.refresh_from_db()
    assert in_mould.stage == Stage.DRYING


@pytest.mark.parametrize(
    "mix",
    [
        {"plaster_g": 0},
        {"water_g": 0},
        {"plaster_g": -5},
        {"water_g": 50_001},
        {"consistency": 19},
        {"consistency": 121},
    ],
)
def test_a_mix_that_cannot_be_meant_is_refused(unit, by, in_clay, mix):
    with pytest.raises(ActionRefused):
        pour(unit, by, *in_clay.pieces.all(), **mix)
    assert not Pour.objects.exists()


def test_a_pour_needs_a_piece(unit, by):
    with pytest.raises(ActionRefused, match="at least one piece"):
        pour(unit, by)


def test_what_is_poured_is_not_poured_again(unit, by, in_mould):
    with pytest.raises(MoveRefused, match=r"Poured already.*Ada, left hand"):
        pour(unit, by, in_mould.pieces.first())


def test_another_unit_s_piece_is_not_poured(unit, by):
    elsewhere = makers.job_at(Stage.CLAY_REST, makers.a_unit(name="Elsewhere"))
    with pytest.raises(MoveRefused):
        pour(unit, by, *elsewhere.pieces.all())


def test_the_database_itself_keeps_one_whole_cast_a_piece(unit, by, in_mould):
    cast = casts_of(in_mould)[0]
    with pytest.raises(IntegrityError), transaction.atomic():
        Cast.objects.create(unit=unit, piece=cast.piece, pour=cast.pour)


def test_a_spoiled_piece_with_a_whole_print_is_poured_again(unit, by, on_rack):
    broken, other = casts_of(on_rack)
    place = broken.rack_place
    spoil(broken, by, whole=True)
    on_rack.refresh_from_db()
    broken.refresh_from_db()
    assert on_rack.stage == Stage.CLAY_REST
    assert broken.rack_place is None
    assert list(casts_pieces.pieces_to_pour(unit)) == [broken.piece]
    back = on_rack.events.get(to_stage=Stage.CLAY_REST, from_stage=Stage.DRYING)
    assert details(back) == ("Ada, left hand: bubble. a hole in the thumb")
    # The other hand dries on meanwhile.
    weighing.weigh(other, mass_g=400, **facts(by))
    pour(unit, by, broken.piece)
    again = Cast.objects.whole().get(piece=broken.piece)
    actions.demould(again, **facts(by))
    on_rack.refresh_from_db()
    again.refresh_from_db()
    assert on_rack.stage == Stage.DRYING
    assert again.rack_place == place
    assert broken.piece.casts.count() == 2, "the spoiled one stays in the books"


def test_a_spoiled_piece_with_a_lost_print_waits_for_a_new_sitting(unit, by, on_rack):
    broken, _ = casts_of(on_rack)
    spoil(broken, by, whole=False)
    on_rack.refresh_from_db()
    assert on_rack.stage == Stage.BOOKED
    assert not casts_pieces.pieces_to_pour(unit).exists()
    assert missing(on_rack, Stage.CLAY_REST) == ["Without a print so far: Ada, left hand."]
    at = timezone.now()
    diary_actions.book_again(
        on_rack,
        starts_at=makers.next_morning(unit, at),
        minutes=45,
        by=by,
        at=at,
        key=uuid.uuid4(),
    )
    makers.take_prints(on_rack, by, at)
    on_rack.refresh_from_db()
    assert on_rack.stage == Stage.CLAY_REST
    assert list(casts_pieces.pieces_to_pour(unit)) == [broken.piece]
    pour(unit, by, broken.piece)
    actions.demould(Cast.objects.whole().get(piece=broken.piece), **facts(by))
    on_rack.refresh_from_db()
    assert on_rack.stage == Stage.DRYING


def test_clay_that_is_whole_is_poured_while_the_job_waits_for_another_sitting(unit, by, on_rack):
    lost, whole = casts_of(on_rack)
    spoil(lost, by, whole=False)
    spoil(whole, by, whole=True)
    on_rack.refresh_from_db()
    assert on_rack.stage == Stage.BOOKED, "it does not go forward"
    assert list(casts_pieces.pieces_to_pour(unit)) == [whole.piece]
    pour(unit, by, whole.piece)
    on_rack.refresh_from_db()
    assert on_rack.stage == Stage.BOOKED


def test_a_piece_spoiled_in_its_frame_takes_the_job_back_and_the_frame_begins_anew(by, framing):
    bench_framing.tick_frame(framing, step="mounted", **facts(by))
    broken = casts_of(framing)[0]
    spoil(broken, by, whole=True)
    framing.refresh_from_db()
    assert framing.stage == Stage.CLAY_REST
    pour(framing.unit, by, broken.piece)
    again = Cast.objects.whole().get(piece=broken.piece)
    actions.demould(again, **facts(by))
    weighing.release_dry(again, why="dried by the stove", **facts(by))
    framing.refresh_from_db()
    frame = bench_framing.start_framing(framing, seen=Stage.DRYING, **facts(by))
    assert frame.mounted_at is None


def test_a_piece_in_a_finished_frame_is_not_given_up_before_the_frame_is_reopened(by, ready):
    with pytest.raises(MoveRefused, match="take that back to framing first"):
        spoil(casts_of(ready)[0], by, whole=True)


@pytest.mark.parametrize(
    ("how", "why", "says"),
    [("break", "  ", "what happened"), ("eaten", "by the dog", "what is wrong")],
)
def test_giving_up_needs_its_how_and_why(by, on_rack, how, why, says):
    with pytest.raises(ActionRefused, match=says):
        actions.spoil_piece(casts_of(on_rack)[0], how=how, why=why, print_whole=True, **facts(by))


def test_a_full_rack_puts_the_next_piece_beside_it(unit, by, in_mould):
    unit.rack_places = 1
    unit.save()
    first, second = casts_of(in_mould)
    assert actions.demould(first, **facts(by)).rack_place == 1
    assert actions.demould(second, **facts(by)).rack_place is None
    bench = page.bench(unit, timezone.now())
    assert [lying.cast.pk for lying in bench.beside] == [second.pk]
    assert bench.rack_words == "1 of 1 places taken, 1 beside it"
    with pytest.raises(ActionRefused, match="Place 1 is not free"):
        actions.place_on_rack(second, place=1, **facts(by))
    spoil(first, by, whole=True)
    assert actions.place_on_rack(second, place=1, **facts(by)).rack_place == 1


def test_the_day_is_foreseen_anew_where_a_cast_lies_at_another_place(unit, by, on_rack):
    """What dried by the window took twice as long."""
    makers.job_at(Stage.FRAMING, unit, pieces=4)
    dried = Cast.objects.filter(dry_at__isnull=False)
    for cast in dried:
        slow = cast.demoulded_at + timedelta(days=2 * cast.unlearnt_days)
        days = dict.fromkeys(("dry_early_at", "dry_likely_at", "dry_late_at"), slow)
        dried.filter(pk=cast.pk).update(dried_at_place=9, **days)
    cast = Cast.objects.damp().first()
    beside = actions.place_on_rack(cast, place=8, **facts(by)).dry_likely_at
    by_the_window = actions.place_on_rack(cast, place=9, **facts(by)).dry_likely_at
    assert by_the_window > beside + timedelta(hours=1)


def test_a_piece_left_off_frees_its_place_and_no_longer_holds_up_the_others(by, in_mould):
    first, second = casts_of(in_mould)
    actions.demould(first, **facts(by))
    jobs_actions.leave_off_piece(second.piece, why="They want one hand only.", **facts(by))
    in_mould.refresh_from_db()
    assert in_mould.stage == Stage.DRYING


def test_leaving_off_the_piece_that_needs_a_sitting_lets_the_rest_go_on(by, on_rack):
    lost, dry = casts_of(on_rack)
    spoil(lost, by, whole=False)
    jobs_actions.leave_off_piece(lost.piece, why="They will not come again.", **facts(by))
    on_rack.refresh_from_db()
    dry.refresh_from_db()
    assert on_rack.stage == Stage.DRYING
    assert dry.rack_place
    assert page.bench(on_rack.unit, timezone.now()).taken == 1


def test_a_cast_of_a_piece_left_off_is_not_touched(by, on_rack):
    cast = casts_of(on_rack)[0]
    jobs_actions.leave_off_piece(cast.piece, why="One hand only.", **facts(by))
    cast.refresh_from_db()
    assert cast.rack_place is None
    with pytest.raises(MoveRefused, match="was left off the job"):
        weighing.weigh(cast, mass_g=300, **facts(by))


def test_a_job_called_off_clears_the_bench(by, on_rack):
    key = uuid.uuid4()
    for _ in range(2):
        actions.clear_bench(on_rack, why="moved away", by=by, at=timezone.now(), key=key)
    assert not on_rack.unit.casts.on_the_rack().exists()
    assert on_rack.events.filter(what="clear_bench").count() == 1


def test_nothing_happens_at_the_bench_of_an_ended_job(unit, by):
    job = makers.job_at(Stage.HANDED_OVER, unit)
    for cast in casts_of(job):
        with pytest.raises(MoveRefused, match="no longer changes"):
            weighing.weigh(cast, mass_g=300, **facts(by))
        with pytest.raises(MoveRefused, match="no longer changes"):
            spoil(cast, by, whole=True)


def test_the_pour_page_tells_the_second_of_two_people(unit, owner, helper, in_clay):
    pieces = [piece.pk for piece in in_clay.pieces.all()]
    sent = {"pieces": pieces, "plaster_g": 400, "water_g": 280}
    assert press(owner, "pour", **sent).status_code == 302
    answer = press(helper, "pour", **sent)
    assert answer.status_code == 409
    assert "Poured already" in answer.content.decode()
    assert Pour.objects.count() == 1
