"""Pictures are drawn the same each time, at full size, left apart from right."""

import io

import pytest
from PIL import Image

from demo_data import drawing

SHAPES = [drawing.Shape(kind, left, 80) for kind in ("hand", "foot") for left in (True, False)]
BACKING = drawing.Backing((40, 58, 94), 14)


@pytest.mark.parametrize("number", [1, 2, 4, 8])
def test_a_frame_is_drawn_the_same_each_time(number):
    made = [
        drawing.finished((SHAPES * 2)[:number], BACKING, limed=False, glazed=True, seed="x")
        for _ in range(2)
    ]
    assert made[0] == made[1]
    assert Image.open(io.BytesIO(made[0])).size == (drawing.WIDTH_PX, drawing.HEIGHT_PX)


def test_each_limb_leaves_a_print_of_its_own():
    assert len({drawing.impression(shape, seed="x") for shape in SHAPES}) == len(SHAPES)


def test_a_print_in_the_clay_is_the_mirror_image_of_its_cast():
    """The thumb of a left hand points left on the cast and right in the clay."""
    left = drawing.Shape("hand", True, 80)
    cast = drawing.finished(
        [left], drawing.Backing((0, 0, 0), 0), limed=False, glazed=False, seed="x"
    )
    picture = Image.open(io.BytesIO(cast)).convert("L")
    width, height = picture.size
    white = picture.point(lambda tone: 255 if tone > 190 else 0)
    inside = white.crop((width // 3, height // 4, width * 2 // 3, height * 3 // 4))
    assert inside.getbbox()


def test_a_frame_without_casts_is_refused():
    with pytest.raises(ValueError, match="at least one cast"):
        drawing.finished([], BACKING, limed=False, glazed=False, seed="x")
