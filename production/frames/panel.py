"""A job's frame as shown on its page."""

from dataclasses import dataclass
from datetime import date

from production.frames.design import diagonal_mm
from production.frames.drawing import Proof
from production.frames.job_frames import frame_of, is_cut
from studio.jobs.models import Job


@dataclass(frozen=True, slots=True)
class Place:
    """Where a cast is glued: its size, and how far it lies from the left and the top of the opening, in mm."""

    name: str
    width_mm: float
    height_mm: float
    left_mm: float
    top_mm: float


@dataclass(frozen=True, slots=True)
class FrameShown:
    """Facts for `_frame_facts.html`; lengths in mm, `size_mm` inside, `rails_mm` and `board_mm` outside."""

    reference: str
    proof: Proof
    laid: tuple[Place, ...]
    size_name: str
    size_mm: tuple[float, float]
    made_to_measure: bool
    fits_rebate: bool
    moulding: str
    rails_mm: tuple[int, int]
    diagonal_mm: float
    moulding_mm: int
    matched: bool
    board_mm: tuple[int, int]
    spacer_mm: float
    tape_mm: int
    hung_g: float
    fixings: int
    each_holds_g: float
    wire_g: float
    cautions: tuple[str, ...]
    is_cut: bool


def frame_shown(job: Job, today: date) -> FrameShown | None:
    """Return the job's frame as it would be built; None without a moulding or a piece. About nine queries."""
    frame = frame_of(job, today)
    if frame is None:
        return None
    size = frame.fit.size
    return FrameShown(
        reference=job.reference,
        proof=frame.proof(),
        laid=tuple(
            Place(each.cast.name, box.width_mm, box.height_mm, box.x_mm, box.y_mm)
            for each in frame.fit.layout.casts
            for box in [each.box]
        ),
        size_name=size.name,
        size_mm=(size.width_mm, size.height_mm),
        made_to_measure=frame.fit.made_to_measure,
        fits_rebate=frame.fits_rebate,
        moulding=str(frame.moulding),
        rails_mm=frame.rails_mm,
        diagonal_mm=diagonal_mm(*frame.rails_mm),
        moulding_mm=frame.moulding_mm,
        matched=frame.matched,
        board_mm=frame.board_mm,
        spacer_mm=frame.stack.spacer_mm,
        tape_mm=frame.tape_mm,
        hung_g=frame.hung_g,
        fixings=frame.hanging.fixings,
        each_holds_g=frame.hanging.each_holds_g,
        wire_g=frame.hanging.wire_g,
        cautions=tuple(frame.hanging.cautions),
        is_cut=is_cut(job),
    )
