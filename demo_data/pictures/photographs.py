"""Photographs of a demo job, drawn from its pieces, ages and chosen frame."""

from io import BytesIO

from bookings.photos.cleaning import CleanPhoto, clean
from bookings.sittings import ages
from bookings.sittings.prints import pieces_with_print
from demo_data.pictures import drawing
from demo_data.pictures.limbs import Shape
from orders.order.models import Order
from production.casts import limb_sizes
from production.frames.models import Frame
from studio.jobs.models import Job, Piece
from studio.limbs import Limb

_BACKINGS = {
    "Chalk linen": drawing.Backing((238, 233, 222), 26),
    "Oat linen": drawing.Backing((208, 192, 164), 30),
    "Deep blue felt": drawing.Backing((40, 58, 94), 14),
    "Slate felt": drawing.Backing((112, 120, 124), 16),
}
_ANY_BACKING = _BACKINGS["Chalk linen"]


def of_the_frame(job: Job, order: Order, frame: Frame) -> CleanPhoto:
    """The finished frame on the wall."""
    pieces = job.pieces.on_the_job().select_related("child")
    return clean(
        BytesIO(
            drawing.finished(
                [_shape(piece) for piece in pieces],
                _BACKINGS[str(backing)] if (backing := order.frame.backing) else _ANY_BACKING,
                limed=str(order.frame.finish) == "Limed oak",
                glazed=frame.glazed,
                seed=f"frame {job.family.name}",
            )
        )
    )


def of_the_print(piece: Piece) -> CleanPhoto:
    """The print in its clay, on the bench."""
    return clean(BytesIO(drawing.clay_print(_shape(piece), seed=f"print {piece}")))


def first_print(job: Job) -> Piece | None:
    return job.pieces.filter(pk__in=pieces_with_print(job)).select_related("child").first()


def _shape(piece: Piece) -> Shape:
    print_ = piece.prints.filter(taken_at__isnull=False).last()
    child = piece.child
    on = print_.taken_at.date() if print_ and print_.taken_at else child.born_on
    months = limb_sizes.age_in_months(ages.corrected_days(child.born_on, child.due_on, on))
    limb = Limb(piece.limb)
    kind: limb_sizes.Limb = "hand" if limb.kind == "hand" else "foot"
    length_mm = limb_sizes.expected_length(kind, months).mean_mm
    return Shape(kind, limb.value.startswith("left"), length_mm)
