"""The handbooks' examples of frames.

- Rail and moulding: D + 2(W - R) + A; a frame 2(D1 + D2) + 4(2(W - R) + A) + 3C: vermonthardwoods.com,
  ashcraftframing.co.uk, framing4yourself.com [src]: 1956 mm, 88.25 in, 64 in.
- Depth 7.6 mm: ashcraftframing.wordpress.com [src].
- Glass 2.5 kg/m² a millimetre: EN 572-1 as quoted by toughglaze.com [src]; oak 702 kg/m³ at 12 %:
  europeanwood.org [src]; MDF 750 and acrylic 1.2 [mem].
- 300 × 250 with W 30, R 8, A 3, C 5, and the weights of the 302 × 252 oak frame: computed from the
  same formulas [computed].
- Wire: w / (2 sin a): statics [computed]. Two fixings, four times the load: our policy.
"""

import pytest

from production.frames import design
from production.frames.design import Moulding, Stack


def test_rails_and_moulding_exactly():
    moulding = Moulding(face_mm=30, rebate_mm=8, allowance_mm=3, loss_mm=5)
    assert design.rail_mm(300, moulding) == 347
    assert design.rail_mm(250, moulding) == 297
    assert design.moulding_needed_mm(300, 250, moulding) == 1303
    assert design.moulding_needed_mm(300, 250, Moulding()) == 1303, "the usual oak"


def test_the_depth_of_a_picture():
    stack = Stack(glazing_mm=2, mount_mm=1.4, cast_mm=0.3, undermount_mm=1.4, back_mm=2.5)
    assert stack.depth_mm == pytest.approx(7.6)


def test_a_cast_adds_its_relief_and_its_air():
    stack = Stack(glazing_mm=2, cast_mm=14, air_mm=3, back_mm=2.5)
    assert stack.spacer_mm == 17
    assert stack.depth_mm == pytest.approx(21.5)
    assert design.rebate_holds(stack, Moulding(rebate_depth_mm=21.5))
    assert not design.rebate_holds(stack, Moulding(rebate_depth_mm=21.4))


def test_the_usual_rebate_holds_a_slab_of_20_mm_with_glass_and_back_and_half_a_millimetre_over():
    assert Stack().depth_mm == 4.5
    assert Stack(cast_mm=20).depth_mm == 24.5
    assert design.rebate_holds(Stack(cast_mm=20.5), Moulding())
    assert not design.rebate_holds(Stack(cast_mm=20.6), Moulding())


def test_an_oak_frame_weighs():
    moulding = Moulding(allowance_mm=2)  # 30 × 35 mm, its rebate 8 × 25 mm
    wood_g = design.rails_volume_mm3(302, 252, moulding) * moulding.density_kg_per_m3 * 1e-6
    assert wood_g == pytest.approx(707, abs=0.5)
    slabs = [
        design.Cast("left", "left_hand", 126, 100),
        design.Cast("right", "right_hand", 126, 100),
    ]
    volume_ml = sum(slab.width_mm * slab.height_mm * slab.depth_mm for slab in slabs) / 1000
    cast_g = volume_ml * 1.1082  # dry plaster at a consistency of 70, see test_plaster_tables.py
    weight = design.hung_weight(300, 250, moulding, Stack(2, back_mm=2.5), casts_g=cast_g)
    assert weight.wood_g == pytest.approx(wood_g)
    assert weight.hung_g == pytest.approx(1831, abs=0.5)


def test_glass_and_acrylic():
    glass = design.hung_weight(1000, 1000, Moulding(), Stack(1), casts_g=0)
    acrylic = design.hung_weight(1000, 1000, Moulding(), Stack(1), casts_g=0, acrylic=True)
    assert glass.glazing_g == 2500
    assert acrylic.glazing_g == 1200


@pytest.mark.parametrize(("angle", "times"), [(15, 1.93), (30, 1), (60, 0.577)])
def test_the_pull_in_a_wire(angle, times):
    assert design.wire_tension_g(1000, angle) / 1000 == pytest.approx(times, abs=0.005)


def test_two_fixings_with_four_times_the_load_and_never_above_a_cot():
    hung = design.hanging(1831)
    assert hung.fixings == 2
    assert hung.fixings * hung.each_holds_g == pytest.approx(4 * 1831)
    assert hung.wire_g == pytest.approx(4 * 1831)
    assert "cot" in hung.cautions[0]
    assert len(design.hanging(3000).cautions) == 2


def test_what_hangs_lightly_has_one_caution():
    assert len(design.hanging(2999.9).cautions) == 1


def test_a_wire_rises_by_at_most_a_right_angle():
    assert design.wire_tension_g(1000, 90) == pytest.approx(500)
    for angle in (0, 90.1, -30):
        with pytest.raises(design.CannotFrame, match="at most 90 degrees"):
            design.wire_tension_g(1000, angle)


def test_boards_tape_and_diagonal():
    assert design.rebate_size_mm(284, Moulding(rebate_mm=8)) == 300
    assert design.tape_mm(300, 250) == 1180
    assert design.tape_mm(300, 250, overlap_mm=0) == 1100
    assert design.diagonal_mm(300, 400) == 500


def test_wood_back_and_fittings_weigh_by_their_density():
    """2.5 mm of MDF on a square metre are 1875 g; half the density is half the wood."""
    oak = design.hung_weight(1000, 1000, Moulding(), Stack(2, back_mm=2.5), casts_g=10)
    light = Moulding(density_kg_per_m3=351)
    assert oak.back_g == pytest.approx(1875)
    assert (oak.casts_g, oak.fittings_g) == (10, 50)
    assert design.hung_weight(1000, 1000, light, Stack(2), casts_g=0).wood_g == pytest.approx(
        oak.wood_g / 2
    )
