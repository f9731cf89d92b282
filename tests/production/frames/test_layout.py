"""The layout of casts in an opening: inside it, apart, left is left, the oldest first."""

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.frames.design import (
    Box,
    CannotFrame,
    Cast,
    FrameSize,
    Margins,
    Moulding,
    Plate,
    choose_size,
    lay_out,
    opening_needed,
    rail_mm,
)

LIMBS = ["left_hand", "right_hand", "left_foot", "right_foot"]

RANGE = [FrameSize("Small", 300, 250), FrameSize("Wide", 500, 250), FrameSize("Large", 500, 400)]

sides = st.floats(40, 160)

casts_of = st.lists(
    st.tuples(st.integers(0, 2), st.sampled_from(LIMBS), sides, sides),
    min_size=1,
    max_size=8,
    unique_by=lambda each: each[:2],
).map(lambda found: [Cast(f"{r} {limb}", limb, w, h, rank=r) for r, limb, w, h in found])

margins_of = st.builds(Margins, st.floats(5, 60), st.floats(5, 40))

plates = st.one_of(
    st.none(), st.builds(Plate, st.just("Ada"), st.floats(40, 200), st.floats(8, 40))
)


def boxes(layout):
    found = [laid.box for laid in layout.casts]
    return found + ([layout.plate_box] if layout.plate_box else [])


def apart(one, other):
    across = max(one.x_mm - other.right_mm, other.x_mm - one.right_mm)
    down = max(one.y_mm - other.bottom_mm, other.y_mm - one.bottom_mm)
    return max(across, down)


@given(casts_of, margins_of, plates, st.integers(1, 3), st.floats(0, 200), st.floats(0, 200))
def test_everything_lies_inside_with_its_margins(casts, margins, plate, rows, wider, higher):
    width, height = opening_needed(casts, margins, plate, rows=rows)
    layout = lay_out(casts, width + wider, height + higher, margins, plate, rows=rows)
    assert {laid.cast for laid in layout.casts} == set(casts)
    edge, near = margins.edge_mm, 1e-6
    for box in boxes(layout):
        assert box.x_mm >= edge - near
        assert box.y_mm >= edge - near
        assert box.right_mm <= layout.width_mm - edge + near
        assert box.bottom_mm <= layout.height_mm - edge + near
    for one, other in combinations(boxes(layout), 2):
        assert apart(one, other) >= margins.gap_mm - near
    if plate:
        assert layout.plate_box.y_mm >= max(laid.box.bottom_mm for laid in layout.casts)


@given(casts_of, margins_of, plates)
def test_left_is_left_and_the_oldest_comes_first(casts, margins, plate):
    layout = choose_size(casts, RANGE, margins, plate).layout
    at = {(laid.cast.rank, laid.cast.limb): laid.box for laid in layout.casts}
    for (rank, limb), box in at.items():
        if limb.startswith("left") and (right := at.get((rank, limb.replace("left", "right")))):
            assert box.right_mm <= right.x_mm
    for (rank, _), box in at.items():
        for (other, _), later in at.items():
            if rank < other:
                assert box.right_mm <= later.x_mm or box.bottom_mm <= later.y_mm


@given(casts_of, margins_of, plates)
def test_the_smallest_that_holds_them_is_chosen(casts, margins, plate):
    fit = choose_size(casts, RANGE, margins, plate)
    if fit.made_to_measure:
        assert fit.size.width_mm % 10 == fit.size.height_mm % 10 == 0
        for size in RANGE:
            for width, height in ((size.width_mm, size.height_mm), (size.height_mm, size.width_mm)):
                with pytest.raises(CannotFrame):
                    lay_out(casts, width, height, margins, plate)
    else:
        assert fit.size.name in {size.name for size in RANGE}
        smaller = [
            size
            for size in RANGE
            if size.width_mm * size.height_mm < fit.size.width_mm * fit.size.height_mm
        ]
        assert smaller == [] or choose_size(casts, smaller, margins, plate).made_to_measure


def test_a_pair_lies_in_the_smallest_frame():
    pair = [Cast("right", "right_hand", 75, 95), Cast("left", "left_hand", 75, 95)]
    fit = choose_size(pair, RANGE, Margins(), Plate("Ada, 16 weeks"))
    assert (fit.size.name, fit.made_to_measure) == ("Small", False)
    assert [laid.cast.name for laid in fit.layout.casts] == ["left", "right"]


def test_hands_lie_above_feet():
    four = [Cast(limb, limb, 80, 100) for limb in LIMBS]
    layout = lay_out(four, 250, 300, Margins(), rows=2)
    tops = {laid.cast.limb: laid.box.y_mm for laid in layout.casts}
    assert tops["left_hand"] == tops["right_hand"] < tops["left_foot"] == tops["right_foot"]


def test_what_is_too_large_for_the_range_is_made_to_measure():
    fit = choose_size([Cast("a", "left_hand", 480, 480)], RANGE, Margins())
    assert fit.made_to_measure
    assert (fit.size.width_mm, fit.size.height_mm) == (530, 530)


def test_no_cast_and_too_small_an_opening_are_refused():
    with pytest.raises(CannotFrame, match="no cast"):
        choose_size([], RANGE, Margins())
    with pytest.raises(CannotFrame, match="530 × 530"):
        lay_out([Cast("a", "left_hand", 480, 480)], 300, 300, Margins())
    with pytest.raises(CannotFrame, match="531 × 541"):
        lay_out([Cast("a", "left_hand", 480.2, 490.2)], 530.1, 600, Margins())


@given(st.integers(100, 900), st.floats(10, 70), st.floats(4, 9))
def test_a_rail_is_longer_than_its_board_by_its_faces(side, face, rebate):
    moulding = Moulding(face_mm=face, rebate_mm=rebate)
    assert rail_mm(side, moulding) > side
    assert rail_mm(side + 1, moulding) == pytest.approx(rail_mm(side, moulding) + 1)


def test_where_two_casts_and_their_plate_lie():
    """205 × 185 mm are needed; 95 mm over make three gaps of 31.67 across, 15 mm three of 5 down."""
    casts = [Cast("hand", "left_hand", 80, 100), Cast("foot", "right_foot", 60, 80)]
    plate = Plate("Ada", 100, 20)
    assert opening_needed(casts, Margins(), plate, rows=1) == (205, 185)
    layout = lay_out(casts, 300, 200, Margins(), plate)
    hand, foot = (laid.box for laid in layout.casts)
    assert (hand.x_mm, hand.y_mm) == pytest.approx((56.667, 30), abs=0.001)
    assert (foot.x_mm, foot.y_mm) == pytest.approx((183.333, 50), abs=0.001), "on one line"
    assert (foot.right_mm, foot.bottom_mm) == pytest.approx((243.333, 130), abs=0.001)
    assert layout.plate_box == Box(100, 150, 100, 20)


def test_a_wide_plate_and_two_rows_need_their_room():
    casts = [Cast("hand", "left_hand", 80, 100), Cast("foot", "left_foot", 120, 60)]
    assert opening_needed(casts, Margins(10, 5), None, rows=2) == (140, 185)
    assert opening_needed(casts, Margins(10, 5), Plate("Ada", 200, 30), rows=2) == (220, 220)
    assert opening_needed(casts[:1], Margins(), Plate("Ada"), rows=1) == (130, 185)


def test_three_children_in_two_rows_are_the_two_eldest_and_the_youngest():
    casts = [Cast(str(rank), "left_hand", 80, 80, rank=rank) for rank in (2, 0, 1)]
    layout = lay_out(casts, 300, 300, Margins(), rows=2)
    tops = {laid.cast.name: laid.box.y_mm for laid in layout.casts}
    assert tops["0"] == tops["1"] < tops["2"]


def test_of_two_sizes_of_one_area_the_squarer_is_chosen_and_any_may_lie():
    long, square = FrameSize("Long", 200, 300), FrameSize("Square", 250, 240)
    assert choose_size([Cast("a", "left_hand", 100, 100)], [long, square], Margins()).size == square
    lying = choose_size([Cast("a", "left_hand", 240, 140)], [square, long], Margins())
    assert (lying.size.name, lying.size.width_mm, lying.size.height_mm) == ("Long", 300, 200)


def test_a_frame_that_holds_them_to_the_millimetre_is_no_made_to_measure():
    exact = [FrameSize("Exact", 150, 130)]
    assert not choose_size([Cast("a", "left_hand", 100, 80)], exact, Margins()).made_to_measure
    over = choose_size([Cast("a", "left_hand", 100, 81)], exact, Margins())
    assert (over.size.width_mm, over.size.height_mm) == (150, 140)


def test_the_smaller_way_to_stand_is_made_to_measure():
    """Hands above feet: 210 × 260; all beside each other: 410 × 150."""
    four = [Cast(limb, limb, 75, 100 if "hand" in limb else 95) for limb in LIMBS]
    fit = choose_size(four, [], Margins())
    assert (fit.size.width_mm, fit.size.height_mm) == (220, 260)


def test_the_smaller_of_two_ways_is_the_one_of_less_area_not_the_narrower():
    """Beside each other: 145 × 150; the hand above the foot: 90 × 265."""
    casts = [Cast("hand", "left_hand", 40, 100), Cast("foot", "left_foot", 40, 100)]
    fit = choose_size(casts, [], Margins())
    assert (fit.size.width_mm, fit.size.height_mm) == (150, 150)
