"""The frames of jobs as they would be built. Reads only."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, cast

from django.db.models import Prefetch, QuerySet, prefetch_related_objects
from django.utils import timezone

from bookings.sittings.models import ClayPrint
from production import plaster
from production.casts.limb_sizes import Calibration
from production.casts.measures import own_calibrations, piece_size
from production.frames import design, drawing
from production.frames.models import (
    CutFrame,
    FrameHabits,
    FrameSize,
    FrameSpecification,
    Moulding,
)
from studio.accounts.models import Unit
from studio.jobs.models import Job, Piece
from studio.stages import Stage

TO_CUT = (Stage.CASTING, Stage.DRYING, Stage.FRAMING)


@dataclass(frozen=True, slots=True)
class Range:
    """The unit's habits, mouldings and sizes. Read once for all jobs."""

    habits: FrameHabits
    mouldings: tuple[Moulding, ...]
    sizes: tuple[FrameSize, ...]
    own: Mapping[str, Calibration]
    """What the unit's own prints tell of hands and feet."""

    @property
    def is_ready(self) -> bool:
        """Whether there is a moulding to build with."""
        return bool(self.mouldings)


@dataclass(frozen=True, slots=True)
class JobFrame:
    """One job's frame: layout, moulding, build-up, weight, hanging and specification."""

    job: Job
    fit: design.ChosenFrame
    moulding: Moulding
    section: design.Moulding
    stack: design.Stack
    weight: design.Weight
    hanging: design.Hanging
    choice: FrameSpecification
    border_mm: int

    @property
    def reference(self) -> str:
        return self.job.reference

    @property
    def names(self) -> str:
        return self.job.first_names

    @property
    def matched(self) -> bool:
        return self.choice.matched

    @property
    def rebate_mm(self) -> tuple[float, float]:
        """Width and height inside the rebate, mm."""
        size = self.fit.size
        return (
            design.rebate_size_mm(size.width_mm, self.section),
            design.rebate_size_mm(size.height_mm, self.section),
        )

    @property
    def board_mm(self) -> tuple[int, int]:
        """Width and height of backing board and glass in mm: the rebate less the allowance."""
        width, height = self.rebate_mm
        allowance = self.section.allowance_mm
        return round(width - allowance), round(height - allowance)

    @property
    def rails_mm(self) -> tuple[int, int]:
        """Outer lengths of the horizontal and of the upright rails, mm."""
        width, height = self.board_mm
        return (
            round(design.rail_mm(width, self.section)),
            round(design.rail_mm(height, self.section)),
        )

    @property
    def board_mm2(self) -> int:
        width, height = self.board_mm
        return width * height

    @property
    def moulding_mm(self) -> int:
        return round(design.moulding_needed_mm(*self.board_mm, self.section))

    @property
    def tape_mm(self) -> int:
        return round(design.tape_mm(*self.board_mm))

    @property
    def fits_rebate(self) -> bool:
        return design.rebate_holds(self.stack, self.section)

    @property
    def hung_g(self) -> float:
        return self.weight.hung_g

    def proof(self) -> drawing.Proof:
        """Draw the frame to scale."""
        choice = self.choice
        return drawing.proof(
            self.fit,
            self.moulding.face_mm,
            self.border_mm,
            backing=choice.backing.name if choice.backing else "",
            finish=choice.finish.name if choice.finish else "",
            plate_words=choice.plate_words,
        )


@dataclass(frozen=True, slots=True)
class InsideSize:
    """The visible inside size of a frame, as the sizes of the range are named."""

    width_mm: int
    height_mm: int

    @property
    def longest_mm(self) -> int:
        return max(self.width_mm, self.height_mm)

    @property
    def words(self) -> str:
        return f"{self.width_mm} × {self.height_mm} mm"


def frame_range(unit: Unit) -> Range:
    """Return what the unit builds frames with. Four queries."""
    return complete_range(unit, *habits_and_mouldings(unit))


def habits_and_mouldings(unit: Unit) -> tuple[FrameHabits, tuple[Moulding, ...]]:
    """Return the unit's habits and its mouldings in use, with the materials they are linked to. Two queries."""
    rows = FrameHabits.objects.filter(unit=unit).select_related("board_material", "glass_material")
    mouldings = unit.mouldings.filter(retired_at=None).select_related("material")
    return rows.first() or FrameHabits(unit=unit), tuple(mouldings)


def complete_range(unit: Unit, habits: FrameHabits, mouldings: tuple[Moulding, ...]) -> Range:
    """Return the range of these habits and mouldings. Two queries."""
    return Range(habits, mouldings, tuple(unit.frame_sizes.all()), own_calibrations(unit))


def frame_of(job: Job, today: date) -> JobFrame | None:
    """Return the job's frame as it would be built; None without a moulding or a piece. About eight queries."""
    range_ = frame_range(job.unit)
    prefetch_related_objects([job], *_pieces())
    return _job_frame(job, range_, today)


def inside_size(job: Job, today: date) -> InsideSize | None:
    """Return the inside size of a job's frame, chosen or computed; None if neither is known. About eight queries."""
    if frame := frame_of(job, today):
        return InsideSize(frame.fit.size.width_mm, frame.fit.size.height_mm)
    choice = FrameSpecification.of(job)
    if choice.width_mm and choice.height_mm:
        return InsideSize(choice.width_mm, choice.height_mm)
    return None


def finish_and_backing(unit: Unit, jobs: Collection[int]) -> dict[int, tuple[str, str]]:
    """Return finish and backing of these jobs (primary keys), each "" if not chosen. One query.

    The bench sets up once for jobs with the same two. Jobs without a specification are left out.
    """
    chosen = FrameSpecification.objects.filter(job__unit=unit, job__in=jobs)
    rows = chosen.values_list("job", "finish__name", "backing__name")
    return {job: (finish or "", backing or "") for job, finish, backing in rows}


def is_cut(job: Job) -> bool:
    """Whether the rails of the job's frame are cut. One query."""
    return CutFrame.objects.filter(job=job).exists()


def frames_to_cut(unit: Unit, now: datetime, range_: Range) -> list[JobFrame]:
    """Return the uncut frames of jobs on the bench, the soonest promised first."""
    return _frames(_jobs_to_cut(unit), timezone.localdate(now), range_)


def frames_ahead(jobs: Sequence[Job], today: date, range_: Range) -> list[JobFrame]:
    """Return the uncut frames of these open jobs, those of future sittings with predicted sizes. At most five queries."""
    prefetch_related_objects(jobs, *_pieces(), FrameSpecification.loaded(), "cut_frame")
    uncut = [job for job in jobs if job.stage != Stage.READY and not hasattr(job, "cut_frame")]
    return _frames(uncut, today, range_)


def _frames(jobs: Iterable[Job], today: date, range_: Range) -> list[JobFrame]:
    frames = (_job_frame(job, range_, today) for job in jobs)
    return [frame for frame in frames if frame]


def _jobs_to_cut(unit: Unit) -> QuerySet[Job]:
    return (
        unit.jobs.filter(stage__in=TO_CUT, cut_frame=None)
        .select_related("family", "unit")
        .prefetch_related(*_pieces(), FrameSpecification.loaded())
        .order_by("promised_on", "pk")
    )


def _pieces() -> "list[Prefetch[Any, Any, Any]]":
    """What a frame reads of its pieces. Two queries."""
    return [
        Prefetch("pieces", Piece.objects.select_related("child")),
        Prefetch("pieces__prints", ClayPrint.objects.select_related("sitting")),
    ]


def _job_frame(job: Job, range_: Range, today: date) -> JobFrame | None:
    pieces = [piece for piece in job.pieces.all() if not piece.left_off_at]
    if not pieces or not range_.is_ready:
        return None
    choice, habits = FrameSpecification.of(job), range_.habits
    moulding = choice.moulding or range_.mouldings[0]
    casts = _casts(pieces, range_, today)
    margins = design.Margins(habits.edge_mm, habits.gap_mm)
    fit = design.choose_size(casts, _sizes(range_, choice), margins, _plate(habits, choice))
    section = section_of(moulding)
    stack = design.Stack(
        glazing_mm=habits.glazing_mm,
        cast_mm=habits.cast_mm,
        air_mm=habits.air_mm,
        back_mm=habits.back_mm,
    )
    volume_ml = sum(cast.width_mm * cast.height_mm * cast.depth_mm for cast in casts) / 1000
    board = (
        design.rebate_size_mm(fit.size.width_mm, section) - section.allowance_mm,
        design.rebate_size_mm(fit.size.height_mm, section) - section.allowance_mm,
    )
    casts_g = plaster.mix(volume_ml, job.unit.consistency).dry_g
    weight = design.hung_weight(*board, section, stack, casts_g=casts_g)
    return JobFrame(
        job,
        fit,
        moulding,
        section,
        stack,
        weight,
        design.hanging(weight.hung_g),
        choice,
        habits.border_mm,
    )


def section_of(moulding: Moulding) -> design.Moulding:
    """Return the section of a moulding as the pure computations take it."""
    return design.Moulding(
        moulding.face_mm,
        moulding.height_mm,
        moulding.rebate_mm,
        moulding.rebate_depth_mm,
        moulding.allowance_mm,
        moulding.loss_mm,
    )


def _sizes(range_: Range, choice: FrameSpecification) -> list[design.FrameSize]:
    if choice.width_mm and choice.height_mm:
        return [design.FrameSize("as chosen", choice.width_mm, choice.height_mm)]
    return [design.FrameSize(s.name, s.width_mm, s.height_mm) for s in range_.sizes]


def _plate(habits: FrameHabits, choice: FrameSpecification) -> design.Plate | None:
    if not choice.plate:
        return None
    return design.Plate("", habits.plate_width_mm, habits.plate_height_mm)


def _casts(pieces: Sequence[Piece], range_: Range, today: date) -> list[design.Cast]:
    """Return the outer size of each cast: as long as measured, else the upper end of its age.

    The breadth of a hand is not measured: the upper end of the published breadth is used.
    """
    born = sorted({(piece.child.born_on, piece.child_id) for piece in pieces})
    ranks = {child: rank for rank, (_, child) in enumerate(born)}
    return [_cast(piece, ranks[piece.child_id], range_, today) for piece in pieces]


def _cast(piece: Piece, rank: int, range_: Range, today: date) -> design.Cast:
    size, habits = piece_size(piece, today, range_.own), range_.habits
    return design.Cast(
        name=str(piece),
        limb=cast("design.Limb", piece.limb),
        width_mm=size.breadth.high_mm + 2 * habits.border_mm,
        height_mm=size.to_frame_mm + 2 * habits.border_mm,
        depth_mm=habits.cast_mm,
        rank=rank,
    )
