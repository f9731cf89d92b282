"""Properties of the week's cutting: everything is cut, nothing overlaps, proofs hold, always the same."""

from functools import cache
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from production.frames import drawing
from production.frames.cutting import cut_sheets as cutting_cut_sheets
from production.frames.cutting import diving, packing, spare_offcuts
from production.frames.cutting.bar_plan import Bar, CannotCut, Rail, Run
from production.frames.cutting.bounds import Kind, Task
from production.frames.cutting.column_generation import Pool
from production.frames.cutting.cut_bars import cut_bars
from production.frames.cutting.cut_sheets import Part, Sheet, cut_sheets
from production.frames.cutting.diving import dive
from production.frames.cutting.guillotine import Field, Shape, fill, fill_unlimited
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


@pytest.mark.parametrize("seed", [6, 10, 17, 19, 20, 25, 26, 29])
def test_in_a_small_week_no_other_plan_leaves_longer_offcuts(seed):
    week = a_week(seed, 5)
    plan = cut_bars(week.rails, stock_mm=week.stock_mm, rack=week.rack, loss_mm=week.loss_mm)
    assert plan.offcuts_proven
    assert plan.useful_mm > 0


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


def test_a_defect_at_either_end_of_an_offcut_leaves_one_run():
    bar = Bar(1000, "R1", ((0, 20),))
    assert bar.runs(5) == (Run(20, 1000),)
    assert Bar(1000, "R1", ((980, 1000),)).runs(5) == (Run(0, 980),)
    assert cut_bars([Rail(980)], stock_mm=STOCK, rack=[bar], loss_mm=5).new_bars == 0


def a_task(*, sizes, demand, new=3005, rack=()):
    return Task(sizes, demand, Kind((new,), sum(demand)), rack, 5, 250)


def filled(bars):
    return [(bar.is_new, bar.kind.capacities, bar.runs) for bar in bars]


def test_the_longest_rail_comes_first_and_lies_in_the_fullest_bar_or_in_the_first():
    """12 in one bar of 20, 10 and 9 in a second: a rail of 1 fills the second up, or lies in the first."""
    task = a_task(sizes=(1, 9, 12, 10), demand=(1, 1, 1, 1), new=20)
    twelve, ten_and_nine = {2: 1}, {3: 1, 1: 1}
    assert filled(packing.best_fit(task)) == [
        (True, (20,), [twelve]),
        (True, (20,), [ten_and_nine | {0: 1}]),
    ]
    assert filled(packing.first_fit(task)) == [
        (True, (20,), [twelve | {0: 1}]),
        (True, (20,), [ten_and_nine]),
    ]


def test_a_bar_is_filled_to_the_brim():
    task = a_task(sizes=(2, 9), demand=(1, 1), new=11)
    for fit in (packing.best_fit, packing.first_fit):
        assert filled(fit(task)) == [(True, (11,), [{1: 1, 0: 1}])]


def test_offcuts_are_filled_before_new_bars_and_the_one_of_the_shortest_run_first():
    rack = (Kind((10, 90), 1), Kind((50,), 1))
    task = a_task(sizes=(9,), demand=(1,), new=100, rack=rack)
    assert filled(packing.first_fit(task)) == [(False, (50,), [{0: 1}])]
    assert filled(packing.best_fit(task)) == [(False, (10, 90), [{0: 1}, {}])]
    assert packing.best_fit(a_task(sizes=(101,), demand=(1,), new=100)) is None


def test_a_dive_solves_no_more_programs_than_it_may():
    task = a_task(sizes=(405, 305), demand=(8, 16))
    assert diving._Dive(programs=2).complete(task, [], 3) is None
    assert len(diving._Dive(programs=20).complete(task, [], 3)) == 3


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


def test_what_is_kept_of_a_sheet_is_useful_on_both_sides():
    (cut,) = cut_sheets([Part(300, 250)], stock=Sheet(1000, 800), useful_mm=200).sheets
    assert cut.offcuts
    assert all(min(kept.width_mm, kept.height_mm) >= 200 for kept in cut.offcuts)
    (cut,) = cut_sheets([Part(300, 250)], stock=Sheet(420, 370), useful_mm=200).sheets
    assert cut.offcuts == ()


def test_a_board_as_large_as_its_sheet_and_the_widest_kerf_are_cut():
    (cut,) = cut_sheets([Part(300, 250, "Ada", grain=True)], stock=Sheet(300, 250)).sheets
    assert [(laid.part.name, laid.turned) for laid in cut.placed] == [("Ada", False)]
    assert cut.cuts == ()
    assert cut_sheets([Part(1, 1)], stock=Sheet(300, 250), kerf_mm=50).new_sheets == 1
    with pytest.raises(CannotCut, match="between 0 and 50"):
        cut_sheets([Part(1, 1)], stock=Sheet(300, 250), kerf_mm=51)
    with pytest.raises(CannotCut, match="cannot be meant"):
        cut_sheets([Part(0, 1)], stock=Sheet(300, 250))


def test_a_rest_thinner_than_the_saw_is_cut_off_beside_a_finished_board_only():
    """No saw cuts 2 mm off the whole length of a sheet with a blade of 3."""
    laid = cutting_cut_sheets._by_search([Part(300, 250)] * 2, Sheet(302, 503), 3)
    assert len(laid.placed) == 2
    assert [cut.height_mm for cut in laid.cuts if cut.width_mm == 2] == [250, 250]


def guillotine_sets(width, height, shapes):
    """Every set of shapes, as bits, that straight cuts take out of a rectangle; by trying each cut."""

    @cache
    def sets(width, height):
        found = {0} | {
            1 << place for place, (w, h, _) in enumerate(shapes) if w <= width and h <= height
        }
        halves = [((x, height), (width - x, height)) for x in range(1, width // 2 + 1)]
        halves += [((width, y), (width, height - y)) for y in range(1, height // 2 + 1)]
        for one, other in halves:
            found |= {a | b for a in sets(*one) for b in sets(*other) if not a & b}
        return found

    return sets(width, height)


@pytest.mark.parametrize("seed", range(12))
def test_a_small_sheet_is_filled_as_well_as_by_trying_every_cut(seed):
    dice = Random(seed)  # noqa: S311 - the same each time
    width, height = dice.randint(7, 10), dice.randint(7, 10)
    shapes = [(dice.randint(2, 6), dice.randint(2, 6)) for _ in range(6)]
    shapes = [(w, h, w * h + dice.randint(0, 2)) for w, h in shapes]
    most = max(
        sum(value for place, (*_, value) in enumerate(shapes) if taken >> place & 1)
        for taken in guillotine_sets(width, height, shapes)
    )
    kinds = tuple(Shape(w, h, value, place) for place, (w, h, value) in enumerate(shapes))
    best, proven = fill(Field(width, height, kinds), [1] * len(shapes))
    assert proven
    assert best.value == most
    assert best.value == sum(shapes[place][2] for place, often in enumerate(best.used) if often)


@pytest.mark.parametrize(
    ("width", "height", "often"), [(3, 9, 0), (9, 3, 0), (4, 5, 1), (12, 10, 6)]
)
def test_with_any_number_of_a_shape_only_whole_ones_count(width, height, often):
    """Boards of 4 × 5, three beside and two above each other on 12 × 10."""
    best = fill_unlimited(Field(width, height, (Shape(4, 5, 20, 0),)))
    assert (best.value, best.used) == (20 * often, (often,))


@pytest.mark.parametrize("seed", range(6))
def test_a_sheet_and_its_boards_turned_by_a_quarter_are_cut_just_as_well(seed):
    dice = Random(seed)  # noqa: S311 - the same each time
    sides = [dice.sample(range(100, 900), 2) for _ in range(dice.randint(5, 9))]
    lying = cut_sheets([Part(w, h, grain=True) for w, h in sides], stock=Sheet(2440, 1220))
    upright = cut_sheets([Part(h, w, grain=True) for w, h in sides], stock=Sheet(1220, 2440))
    assert (lying.new_sheets, lying.spent_mm2) == (upright.new_sheets, upright.spent_mm2)


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
