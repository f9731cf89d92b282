"""Pictures are drawn the same each time, at full size, left apart from right."""

import io

import pytest
from PIL import Image

from demo_data.pictures import drawing
from demo_data.pictures.limbs import Shape

SHAPES = [Shape(kind, left, 80) for kind in ("hand", "foot") for left in (True, False)]
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
    assert len({drawing.clay_print(shape, seed="x") for shape in SHAPES}) == len(SHAPES)


@pytest.mark.parametrize("left", [True, False])
def test_the_little_finger_lies_away_from_the_thumb(left):
    """Palm towards us, a left hand has its thumb on the left, so its little finger on the right."""
    black = drawing.Backing((0, 0, 0), 0)
    hand = Shape("hand", left, 80)
    made = drawing.finished([hand], black, limed=False, glazed=False, seed="x")
    picture = Image.open(io.BytesIO(made)).convert("L")
    width, height = picture.size
    # Between the tip of the thumb and that of the little finger.
    row = picture.crop(
        (int(width * 0.39), int(height * 0.40), int(width * 0.61), int(height * 0.41))
    )
    first, _, last, _ = row.point(lambda tone: 255 if tone > 170 else 0).getbbox()
    middle = row.width / 2
    assert (last - middle > middle - first) is left


def test_a_frame_without_casts_is_refused():
    with pytest.raises(ValueError, match="at least one cast"):
        drawing.finished([], BACKING, limed=False, glazed=False, seed="x")
