"""The frame of a job as the Frames room draws it: what prices by size follow."""

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from production.frames.reading import frame_of

if TYPE_CHECKING:
    from studio.models import Job


@dataclass(frozen=True, slots=True)
class Drawn:
    """What is seen inside the frame, as the sizes of the range are named."""

    width_mm: int
    height_mm: int

    @property
    def longest_mm(self) -> int:
        return max(self.width_mm, self.height_mm)

    @property
    def words(self) -> str:
        return f"{self.width_mm} × {self.height_mm} mm"


def drawn_frame(job: "Job", today: date) -> Drawn | None:
    """None while no moulding is described or no piece is on the job. About eight queries."""
    frame = frame_of(job, today)
    return Drawn(frame.fit.size.width_mm, frame.fit.size.height_mm) if frame else None
