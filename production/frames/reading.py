"""The frames of the jobs as they would be built, and the week's cutting: reads only."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from hashlib import sha256
from typing import TYPE_CHECKING, cast

from django.db.models import Prefetch, prefetch_related_objects

from bookings.models import Impression
from production import framing, plaster
from production.cutting.bars import cut_bars
from production.cutting.sheets import Part, Sheet, SheetPlan, cut_sheets
from production.cutting.stock import Bar, BarPlan, CannotCut, Rail
from production.frames import drawing
from production.frames.models import CutFrame, FrameChoice, FrameHabits, FrameSize, Moulding
from production.queries.measures import own_sizes, piece_size
from production.queries.pieces import local_day
from studio.looks import Looks, looks_of
from studio.models import Job, Piece, Unit
from studio.stages import Stage

if TYPE_CHECKING:
    from django.db.models import QuerySet

    from production.frames.models import Offcut
    from production.sizes import Calibration

TO_CUT = (Stage.CASTING, Stage.DRYING, Stage.FRAMING)
AHEAD = (Stage.BOOKED, Stage.CLAY_REST, *TO_CUT)
# More would keep a person waiting, and no week has more.
MOST_FRAMES = 60
NO_LOOK = ("", "")


@dataclass(frozen=True, slots=True)
class Range:
    """What the unit builds with. Read it once, for all jobs."""

    habits: FrameHabits
    mouldings: tuple[Moulding, ...]
    sizes: tuple[FrameSize, ...]
    own: "Mapping[str, Calibration]"
    """What the unit's own prints tell of hands and feet."""

    @property
    def is_ready(self) -> bool:
        """Without a moulding nothing can be built."""
        return bool(self.mouldings)


@dataclass(frozen=True, slots=True)
class JobFrame:
    """One job's frame: its layout, its wood, its weight. `moulding` from the range."""

    job: Job
    fit: framing.ChosenFrame
    moulding: Moulding
    section: framing.Moulding
    stack: framing.Stack
    weight: framing.Weight
    hanging: framing.Hanging
    matched: bool
    look: tuple[str, str]  # finish, backing
    border_mm: int

    @property
    def reference(self) -> str:
        return self.job.reference

    @property
    def names(self) -> str:
        return self.job.first_names

    @property
    def rebate_mm(self) -> tuple[float, float]:
        size = self.fit.size
        return (
            framing.rebate_size_mm(size.width_mm, self.section),
            framing.rebate_size_mm(size.height_mm, self.section),
        )

    @property
    def board_mm(self) -> tuple[int, int]:
        """Backing and glass: the rebate less the allowance."""
        width, height = self.rebate_mm
        allowance = self.section.allowance_mm
        return round(width - allowance), round(height - allowance)

    @property
    def rails_mm(self) -> tuple[int, int]:
        """Outer lengths of the two long and the two upright rails."""
        width, height = self.board_mm
        return (
            round(framing.rail_mm(width, self.section)),
            round(framing.rail_mm(height, self.section)),
        )

    @property
    def board_mm2(self) -> int:
        width, height = self.board_mm
        return width * height

    @property
    def moulding_mm(self) -> int:
        return round(framing.moulding_needed_mm(*self.board_mm, self.section))

    @property
    def tape_mm(self) -> int:
        return round(framing.tape_mm(*self.board_mm))

    @property
    def fits_rebate(self) -> bool:
        return framing.rebate_holds(self.stack, self.section)

    @property
    def hung_g(self) -> float:
        return self.weight.hung_g

    def proof(self, plate_words: str = "") -> drawing.Proof:
        finish, backing = self.look
        return drawing.proof(
            self.fit,
            self.moulding.face_mm,
            self.border_mm,
            backing=backing,
            finish=finish,
            plate_words=plate_words,
        )


def frame_range(unit: Unit) -> Range:
    """Four queries."""
    rows = FrameHabits.objects.filter(unit=unit).select_related("board_material", "glass_material")
    habits = rows.first() or FrameHabits(unit=unit)
    mouldings = unit.mouldings.filter(retired_at=None).select_related("material")
    return Range(habits, tuple(mouldings), tuple(unit.frame_sizes.all()), own_sizes(unit))


def frame_of(job: Job, today: date) -> JobFrame | None:
    """The job's frame as it would be built; None without a moulding or a piece. Constant queries."""
    built = frame_range(job.unit)
    prefetch_related_objects([job], "pieces__child", "pieces__impressions__sitting")
    return _built(job, built, looks_of(job.unit, [job.pk]), today)


def is_cut(job: Job) -> bool:
    return CutFrame.objects.filter(job=job).exists()


def frames_to_cut(unit: Unit, now: datetime, range_: Range) -> list[JobFrame]:
    """The frames of the jobs on the bench whose rails are not cut, the soonest promised first."""
    return _uncut(unit, TO_CUT, local_day(now), range_)


def frames_ahead(unit: Unit, today: date, range_: Range) -> list[JobFrame]:
    """Those and the frames of the sittings to come, as large as they will probably be."""
    return _uncut(unit, AHEAD, today, range_)


def _uncut(unit: Unit, stages: Sequence[Stage], today: date, range_: Range) -> list[JobFrame]:
    jobs = list(_jobs(unit, stages))
    looks = looks_of(unit, [job.pk for job in jobs])
    built = (_built(job, range_, looks, today) for job in jobs)
    return [frame for frame in built if frame]


def _jobs(unit: Unit, stages: Sequence[Stage]) -> "QuerySet[Job]":
    return (
        unit.jobs.filter(stage__in=stages, cut_frame=None)
        .select_related("family", "unit", "frame_choice__moulding")
        .prefetch_related(
            Prefetch("pieces", Piece.objects.select_related("child")),
            Prefetch("pieces__impressions", Impression.objects.select_related("sitting")),
        )
        .order_by("promised_on", "pk")
    )


def _built(job: Job, built: Range, looks: Looks, today: date) -> JobFrame | None:
    pieces = [piece for piece in job.pieces.all() if not piece.left_off_at]
    if not pieces or not built.is_ready:
        return None
    choice: FrameChoice | None = getattr(job, "frame_choice", None)
    habits = built.habits
    moulding = (choice and choice.moulding) or built.mouldings[0]
    casts = _casts(pieces, built, today)
    plate = _plate(habits, choice)
    margins = framing.Margins(habits.edge_mm, habits.gap_mm)
    sizes_ = _sizes(built, choice)
    fit = framing.choose_size(casts, sizes_, margins, plate)
    section = section_of(moulding)
    stack = framing.Stack(
        glazing_mm=habits.glazing_mm,
        cast_mm=habits.cast_mm,
        air_mm=habits.air_mm,
        back_mm=habits.back_mm,
    )
    volume_ml = sum(cast.width_mm * cast.height_mm * cast.depth_mm for cast in casts) / 1000
    board = (
        framing.rebate_size_mm(fit.size.width_mm, section) - section.allowance_mm,
        framing.rebate_size_mm(fit.size.height_mm, section) - section.allowance_mm,
    )
    casts_g = plaster.mix(volume_ml, job.unit.consistency).dry_g
    weight = framing.hung_weight(*board, section, stack, casts_g=casts_g)
    return JobFrame(
        job,
        fit,
        moulding,
        section,
        stack,
        weight,
        framing.hanging(weight.hung_g),
        bool(choice and choice.matched),
        looks.get(job.pk, NO_LOOK),
        habits.border_mm,
    )


def section_of(moulding: Moulding) -> framing.Moulding:
    return framing.Moulding(
        moulding.face_mm,
        moulding.height_mm,
        moulding.rebate_mm,
        moulding.rebate_depth_mm,
        moulding.allowance_mm,
        moulding.loss_mm,
    )


def _sizes(built: Range, choice: FrameChoice | None) -> list[framing.FrameSize]:
    if choice and choice.width_mm and choice.height_mm:
        return [framing.FrameSize("as chosen", choice.width_mm, choice.height_mm)]
    return [framing.FrameSize(s.name, s.width_mm, s.height_mm) for s in built.sizes]


def _plate(habits: FrameHabits, choice: FrameChoice | None) -> framing.Plate | None:
    if choice and not choice.plate:
        return None
    return framing.Plate("", habits.plate_width_mm, habits.plate_height_mm)


def _casts(pieces: Sequence[Piece], built: Range, today: date) -> list[framing.Cast]:
    """Each as long as it was measured, else for nine in ten of its age at the sitting.

    How broad a hand lies is not measured: the upper end of the published breadth holds it.
    """
    born = sorted({(piece.child.born_on, piece.child_id) for piece in pieces})
    ranks = {child: rank for rank, (_, child) in enumerate(born)}
    return [_cast(piece, ranks[piece.child_id], built, today) for piece in pieces]


def _cast(piece: Piece, rank: int, built: Range, today: date) -> framing.Cast:
    size, habits = piece_size(piece, today, built.own), built.habits
    return framing.Cast(
        name=str(piece),
        limb=cast("framing.Limb", piece.limb),
        width_mm=size.breadth.high_mm + 2 * habits.border_mm,
        height_mm=size.to_frame_mm + 2 * habits.border_mm,
        depth_mm=habits.cast_mm,
        rank=rank,
    )


# --- the week's cutting ----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Week:
    """The frames of one moulding to be cut together, the rack, and the drawing to follow.

    `seal` changes with everything that the drawing rests on: who confirms it says which was seen.
    """

    moulding: Moulding
    frames: tuple[JobFrame, ...]
    rack: tuple["Offcut", ...]
    plan: BarPlan | None
    boards: SheetPlan | None
    glass: SheetPlan | None
    why_not: str
    seal: str

    @property
    def bars(self) -> tuple[drawing.BarDrawing, ...]:
        return drawing.bars(self.plan) if self.plan else ()

    @property
    def board_sheets(self) -> tuple[drawing.SheetDrawing, ...]:
        return drawing.sheets(self.boards.sheets) if self.boards else ()

    @property
    def glass_sheets(self) -> tuple[drawing.SheetDrawing, ...]:
        return drawing.sheets(self.glass.sheets) if self.glass else ()

    @property
    def tape_mm(self) -> int:
        return sum(frame.tape_mm for frame in self.frames)


def racked(moulding: Moulding) -> "tuple[Offcut, ...]":
    return tuple(moulding.offcuts.filter(gone_at=None))


def week_of(
    frames: Iterable[JobFrame], moulding: Moulding, habits: FrameHabits, rack: "Iterable[Offcut]"
) -> Week:
    """Cut the frames of this moulding. No query."""
    chosen, racked_ = tuple(frames), tuple(rack)
    rails, bars = tuple(_rails(chosen)), tuple(bar_of(offcut) for offcut in racked_)
    boards = tuple(_boards(chosen))
    plan, sheets, panes, why_not = None, None, None, ""
    try:
        plan = _cut(rails, bars, moulding.stock_mm, moulding.loss_mm, habits.useful_mm)
        board, glass = (
            Sheet(habits.board_width_mm, habits.board_height_mm),
            Sheet(habits.glass_width_mm, habits.glass_height_mm),
        )
        sheets = _cut_boards(boards, board, habits.kerf_mm)
        # Glass is scored and snapped: nothing is lost.
        panes = _cut_boards(boards, glass, 0)
    except CannotCut as refused:
        why_not = str(refused)
    told = (rails, bars, moulding.stock_mm, moulding.loss_mm, habits.useful_mm)
    told_of_sheets = (
        boards,
        (habits.board_width_mm, habits.board_height_mm, habits.kerf_mm),
        (habits.glass_width_mm, habits.glass_height_mm),
    )
    seal = sha256(repr((told, told_of_sheets)).encode()).hexdigest()[:16]
    return Week(moulding, chosen, racked_, plan, sheets, panes, why_not, seal)


def bar_of(offcut: "Offcut") -> Bar:
    defects: tuple[tuple[int, int], ...] = ()
    if offcut.defect_from_mm is not None and offcut.defect_to_mm is not None:
        defects = ((offcut.defect_from_mm, offcut.defect_to_mm),)
    return Bar(offcut.length_mm, offcut.label, defects)


def _rails(frames: Iterable[JobFrame]) -> Iterable[Rail]:
    for frame in frames:
        across, upright = frame.rails_mm
        who = f"{frame.job.spoken_reference} {frame.names}"
        matched = who if frame.matched else ""
        for side, length in (
            ("top", across),
            ("right", upright),
            ("foot", across),
            ("left", upright),
        ):
            yield Rail(length, f"{who}, {side}", matched)


def _boards(frames: Iterable[JobFrame]) -> Iterable[Part]:
    for frame in frames:
        yield Part(*frame.board_mm, f"{frame.job.spoken_reference} {frame.names}")


# The same week is looked at, printed and confirmed: it is worked out once.
@lru_cache(maxsize=64)
def _cut(
    rails: tuple[Rail, ...], rack: tuple[Bar, ...], stock_mm: int, loss_mm: int, useful_mm: int
) -> BarPlan:
    return cut_bars(rails, stock_mm=stock_mm, rack=rack, loss_mm=loss_mm, useful_mm=useful_mm)


@lru_cache(maxsize=64)
def _cut_boards(parts: tuple[Part, ...], stock: Sheet, kerf_mm: int) -> SheetPlan:
    return cut_sheets(parts, stock=stock, kerf_mm=kerf_mm)
