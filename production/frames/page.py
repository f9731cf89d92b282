"""The Frames page and its papers."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from urllib.parse import urlencode

from django.utils import timezone

from production.frames import job_frames, materials
from production.frames.cutting_week import MOST_FRAMES, CuttingWeek, offcuts_in_rack, plan_cutting
from production.frames.job_frames import JobFrame, Range
from production.frames.models import Cutting, Moulding, Offcut
from studio.accounts.models import Unit
from studio.web import paper


@dataclass(frozen=True, slots=True)
class FramesPage:
    """Uncut frames of one moulding, the ticked ones, and the cutting planned for them."""

    range: Range
    moulding: Moulding | None
    others: tuple[tuple[Moulding, int], ...]  # other mouldings in use, with how many frames
    frames: tuple[JobFrame, ...]
    ticked: frozenset[str]
    week: CuttingWeek | None
    rack: tuple[Offcut, ...]
    cuttings: tuple[Cutting, ...]
    too_many: bool
    uses: tuple[materials.MaterialUse, ...]
    short: tuple[str, ...]
    """What the stores do not hold of this cutting, in sentences."""

    @property
    def also(self) -> list[str]:
        """What is cut besides rails and linked to stock: "boards", "glass"."""
        return [each.what for each in self.uses if each.what != materials.RAILS]

    @property
    def query(self) -> str:
        """The same choice as a query string."""
        moulding = [("moulding", self.moulding.pk)] if self.moulding else []
        return urlencode(
            [("asked", 1), *moulding, *(("jobs", each) for each in sorted(self.ticked))]
        )


def frames_page(
    unit: Unit, now: datetime, *, moulding: str = "", ticked: Collection[str] | None = None
) -> FramesPage:
    """Return the Frames page; `ticked` are job references, None ticks all. A constant number of queries."""
    range_ = job_frames.frame_range(unit)
    all_frames = job_frames.frames_to_cut(unit, now, range_)
    counts: dict[int, int] = {}
    for frame in all_frames:
        counts[frame.moulding.pk] = counts.get(frame.moulding.pk, 0) + 1
    chosen = _chosen(range_, counts, moulding)
    frames = tuple(f for f in all_frames if chosen and f.moulding.pk == chosen.pk)
    wanted = frames if ticked is None else [f for f in frames if f.reference in ticked]
    cut = tuple(wanted)[:MOST_FRAMES]
    rack = offcuts_in_rack(chosen) if chosen else ()
    week = plan_cutting(cut, chosen, range_.habits, rack) if chosen and cut else None
    uses = materials.cutting_uses(week, range_.habits) if week else []
    return FramesPage(
        range=range_,
        moulding=chosen,
        others=tuple((m, counts.get(m.pk, 0)) for m in range_.mouldings if m != chosen),
        frames=frames,
        ticked=frozenset(frame.reference for frame in cut),
        week=week,
        rack=rack,
        cuttings=tuple(unit.cuttings.select_related("moulding")[:6]),
        too_many=len(wanted) > MOST_FRAMES,
        uses=tuple(uses),
        short=tuple(materials.shortages(unit, uses)),
    )


def _chosen(range_: Range, counts: dict[int, int], asked: str) -> Moulding | None:
    """Return the moulding asked for, else the first with a frame to cut, else the first."""
    named = [m for m in range_.mouldings if str(m.pk) == asked]
    busy = [m for m in range_.mouldings if counts.get(m.pk)]
    return next(iter([*named, *busy, *range_.mouldings]), None)


def cutting_pdf(unit: Unit, page: FramesPage, now: datetime) -> bytes:
    """Draw the cutting as an A4 PDF to follow at the saw."""
    context: dict[str, Any] = {
        "unit": unit,
        "page": page,
        "week": page.week,
        "printed_on": timezone.localdate(now),
    }
    return paper.pdf("paper/cutting.html", context)


def label_pdf(unit: Unit, offcuts: Collection[Offcut]) -> bytes:
    """Draw a label for each offcut, four to an A4 page."""
    return paper.pdf("paper/offcut_labels.html", {"unit": unit, "offcuts": offcuts})
