"""Properties of the week's cutting: everything is cut, nothing overlaps, proofs hold, always the same."""

from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from production.frames import drawing
from production.frames.cutting import cut_sheets as cutting_cut_sheets
from production.frames.cutting import spare_offcuts
from production.frames.cutting.bar_plan import Bar, CannotCut, Rail
from production.frames.cutting.bounds import Kind, Task
from production.frames.cutting.column_generation import Pool
from production.frames.cutting.cut_bars import cut_bars
from production.frames.cutting.cut_sheets import Part, Sheet, cut_sheets
from production.frames.cutting.diving import dive
from tests.cutting_checks import check_bars, check_sheet, least_by, saw
from tests.weeks import a_week

STOCK = 3000

rails_of = st.lists(
    st.tuples(st.integers(120, 900), st.integers(0, 6)).map(
        # A set at most three rails long always fits a bar.
        lambda each: (each[0], f"set {each[1]}" if each[1] else "")
    ),
    min_size=1,
    max_size=14,
)


def rails_from(drawn):
    seen, rails = {}, []
    for place, (length, matched) in enumerate(drawn):
        seen[matched] = seen.get(matched, 0) + 1
        kept = matched if seen[matched] <= 3 else ""
        rails.append(Rail(length, f"rail {place}", kept))
    return rails


@st.composite
def a_rack(draw):
    bars = []
    for place in range(draw(st.integers(0, 4))):
        length = draw(st.integers(200, 2500))
        defects = ()
        if draw(st.booleans()):
            start = draw(st.integers(0, length - 60))
            defects = ((start, start + draw(st.integers(1, 60))),)
        bars.append(Bar(length, f"R{place}", defects))
    return bars


def test_the_racks_offcuts_come_before_a_new_bar():
    rails = [Rail(600)] * 4
    plan = cut_bars(rails, stock_mm=STOCK, rack=[Bar(1300, "R1"), Bar(1250, "R2")], loss_mm=5)
    assert plan.new_bars == 0
    assert not plan.untouched


def test_one_long_rest_is_left_rather_than_two_short_ones():
    plan = cut_bars(
        [Rail(500)] * 3, stock_mm=2500, rack=[Bar(1500, "R1"), Bar(1500, "R2")], loss_mm=0
    )
    assert plan.new_bars == 0
    assert [bar.length_mm for bar in plan.untouched] == [1500]
    assert plan.useful_mm == plan.useful_most_mm == 1250
    assert plan.offcuts_proven


def test_nothing_lies_on_a_defect_and_the_saw_falls_into_it():
    rack = [Bar(1000, "R1", ((495, 505),))]
    plan = cut_bars([Rail(495), Rail(495)], stock_mm=STOCK, rack=rack, loss_mm=5)
    assert plan.new_bars == 0
    assert [(c.from_mm, c.to_mm) for c in plan.bars[0].cuts] == [(0, 495), (505, 1000)]


def test_matched_sides_lie_side_by_side_in_their_order():
    matched = [Rail(length, name, "Ada") for length, name in ((400, "top"), (300, "right"))]
    plan = cut_bars([*matched, Rail(500)], stock_mm=STOCK, loss_mm=5)
    (bar,) = plan.bars
    starts = {cut.rail.name: cut.from_mm for cut in bar.cuts}
    assert starts["right"] == starts["top"] + 405


def test_a_week_without_frames_takes_nothing():
    rack = [Bar(900, "R1")]
    plan = cut_bars([], stock_mm=STOCK, rack=rack)
    assert plan.new_bars == 0
    assert plan.bars == ()
    assert plan.untouched == tuple(rack)
    assert plan.is_proven


@pytest.mark.parametrize(
    ("rails", "stock", "rack", "loss", "said"),
    [
        ([Rail(3001, "Ada, top")], STOCK, [], 5, "Ada, top needs 3001 mm"),
        ([Rail(1600, "a", "Ada"), Rail(1600, "b", "Ada")], STOCK, [], 5, "Ada needs 3205 mm"),
        ([Rail(0)], STOCK, [], 5, "cannot be meant"),
        ([Rail(300)], STOCK, [], 51, "between 0 and 50"),
        ([Rail(300)], STOCK, [Bar(500, "R1", ((400, 600),))], 5, "defect of R1"),
    ],
)
def test_what_cannot_be_cut_is_refused_with_a_sentence(rails, stock, rack, loss, said):
    with pytest.raises(CannotCut, match=said):
        cut_bars(rails, stock_mm=stock, rack=rack, loss_mm=loss)


def a_task(*, sizes, demand, new=3005, rack=()):
    return Task(sizes, demand, Kind((new,), sum(demand)), rack, 5, 250)


def test_a_dive_fills_what_can_be_filled_and_gives_up_where_nothing_can():
    """Eight times 400, 300 and 300 mm with 5 mm a cut: three bars hold 24 rails, two never do."""
    task = a_task(sizes=(405, 305), demand=(8, 16), new=3005)
    pool = Pool()
    found = dive(task, pool, 3)
    assert len(found) == 3
    made = [sum(column.counts().get(place, 0) for column in found) for place in (0, 1)]
    assert made == [8, 16]
    assert all(column in pool.columns for column in found)
    assert dive(task, pool, 2) is None


def test_a_rail_that_no_bar_takes_is_told_and_never_tried_for_ever():
    with pytest.raises(CannotCut, match="longer than every clear run"):
        spare_offcuts._greedy_cutting(a_task(sizes=(3100,), demand=(1,)))


def test_a_board_that_no_rule_places_is_told_and_never_tried_for_ever(monkeypatch):
    answers = iter([None])
    # A second try would find no answer.
    monkeypatch.setattr(cutting_cut_sheets, "_cut", lambda *_, **__: next(answers))
    with pytest.raises(CannotCut, match="No way was found to cut Ada"):
        cut_sheets([Part(300, 250, "Ada")], stock=Sheet(1120, 815))


@pytest.mark.parametrize("seed", range(6))
def test_boards_fit_do_not_overlap_and_come_apart(seed):
    dice = Random(seed)  # noqa: S311 - the same each time
    common = [(300, 250), (400, 300), (250, 200)]
    parts = [
        Part(
            *(dice.choice(common) if dice.random() < 0.7 else dice.sample(range(150, 600), 2)),
            name=f"board {place}",
            grain=dice.random() < 0.3,
        )
        for place in range(25)
    ]
    stock, rack = Sheet(1120, 815), [Sheet(500, 400, "S1")]
    plan = cut_sheets(parts, stock=stock, rack=rack, kerf_mm=3)
    assert sorted(p.part.name for s in plan.sheets for p in s.placed) == sorted(
        part.name for part in parts
    )
    assert plan.least <= plan.new_sheets <= plan.least + 3
    for each in plan.sheets:
        assert not any(p.turned and p.part.grain for p in each.placed)
        lying = [(p.x_mm, p.y_mm, p.width_mm, p.height_mm) for p in each.placed]
        kept = [tuple(area) for area in each.offcuts]
        check_sheet(lying + kept, each.sheet.width_mm, each.sheet.height_mm, 0)
        check_sheet(lying, each.sheet.width_mm, each.sheet.height_mm, 3)
    assert cut_sheets(parts, stock=stock, rack=rack, kerf_mm=3) == plan


ALL_SORTS = [(width, height) for width in range(120, 500, 7) for height in range(120, 400, 7)]

A_RANGE = [(173, 243), (273, 243), (313, 393)]


@pytest.mark.parametrize("kerf", [0, 3])
@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("sizes", [ALL_SORTS, A_RANGE], ids=["all sorts", "a range"])
@pytest.mark.parametrize("stock", [Sheet(1220, 610), Sheet(1120, 815)], ids=["board", "glass"])
def test_cut_in_the_order_that_is_told_every_part_falls_out(stock, sizes, seed, kerf):
    dice = Random(seed)  # noqa: S311 - the same each time
    parts = [Part(*dice.choice(sizes), f"board {number}") for number in range(18)]
    plan = cut_sheets(parts, stock=stock, kerf_mm=kerf)
    for sheet, drawn in zip(plan.sheets, drawing.sheets(plan.sheets), strict=True):
        told = [(cut.upright, cut.at_mm, cut.from_mm, cut.to_mm, kerf) for cut in drawn.cuts]
        pieces = saw(stock.width_mm, stock.height_mm, told)
        for part in sheet.placed:
            assert (part.x_mm, part.y_mm, part.width_mm, part.height_mm) in pieces
        for kept in sheet.offcuts:
            assert tuple(kept) in pieces


def test_a_board_larger_than_the_sheet_is_refused():
    with pytest.raises(CannotCut, match="larger than a sheet"):
        cut_sheets([Part(900, 1200, "Ada", grain=True)], stock=Sheet(1220, 1000))


@settings(max_examples=40, deadline=None)
@given(rails_of, a_rack(), st.integers(0, 8))
def test_every_rail_is_cut_once_and_nothing_overlaps(drawn, rack, loss):
    rails = rails_from(drawn)
    plan = cut_bars(rails, stock_mm=STOCK, rack=rack, loss_mm=loss)
    check_bars(plan, rails, STOCK, rack, loss)
    assert plan.proof.least <= plan.new_bars
    assert 0 <= plan.useful_mm <= plan.useful_most_mm
    for bar in plan.bars:
        assert all(run.length_mm >= 250 for run in bar.offcuts)
    again = cut_bars(rails, stock_mm=STOCK, rack=rack, loss_mm=loss)
    assert again == plan


# Weeks so tight that only a dive through the linear program fills the bars that the proof allows.
TIGHT = [147, 384, 403, 441]


@pytest.mark.parametrize("seed", [*range(8), *TIGHT])
def test_a_generated_week_is_proven_and_its_proof_holds(seed):
    week = a_week(seed)
    plan = cut_bars(week.rails, stock_mm=week.stock_mm, rack=week.rack, loss_mm=week.loss_mm)
    check_bars(plan, week.rails, week.stock_mm, week.rack, week.loss_mm)
    assert plan.is_proven
    sets = {}
    for place, rail in enumerate(week.rails):
        at = rail.matched or place
        sets[at] = sets.get(at, 0) + rail.length_mm + week.loss_mm
    taken = list(sets.values())
    again = least_by(plan.proof, taken, week.stock_mm, week.rack, week.loss_mm)
    assert again == plan.proof.least
