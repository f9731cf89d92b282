"""Plan of a cutting: bars, boards and glass for the frames of one moulding. Reads only."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256

from production.frames import drawing
from production.frames.cutting.bar_plan import Bar, BarPlan, CannotCut, Rail
from production.frames.cutting.cut_bars import cut_bars
from production.frames.cutting.cut_sheets import Part, Sheet, SheetPlan, cut_sheets
from production.frames.job_frames import JobFrame
from production.frames.models import FrameHabits, Moulding, Offcut

# More would keep a person waiting, and no week has more.
MOST_FRAMES = 60


@dataclass(frozen=True, slots=True)
class CuttingWeek:
    """The frames of one moulding to cut together, the offcuts at hand, and the plan of bars and sheets.

    `why_not`: why there is no plan. `seal`: a hash of all that the plan depends on; a confirmation names the
    one that was seen.
    """

    moulding: Moulding
    frames: tuple[JobFrame, ...]
    rack: tuple[Offcut, ...]
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


def offcuts_in_rack(moulding: Moulding) -> tuple[Offcut, ...]:
    """Return the offcuts of a moulding in the offcut rack. One query."""
    return tuple(moulding.offcuts.filter(gone_at=None))


def plan_cutting(
    frames: Iterable[JobFrame], moulding: Moulding, habits: FrameHabits, rack: Iterable[Offcut]
) -> CuttingWeek:
    """Plan the cutting of these frames of one moulding from offcuts, new bars and sheets. No query."""
    chosen, offcuts = tuple(frames), tuple(rack)
    rails, bars = tuple(_rails(chosen)), tuple(_bar(offcut) for offcut in offcuts)
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
    return CuttingWeek(moulding, chosen, offcuts, plan, sheets, panes, why_not, seal)


def _bar(offcut: Offcut) -> Bar:
    defects: tuple[tuple[int, int], ...] = ()
    if offcut.defect_from_mm is not None and offcut.defect_to_mm is not None:
        defects = ((offcut.defect_from_mm, offcut.defect_to_mm),)
    return Bar(offcut.length_mm, offcut.label, defects)


def _rails(frames: Iterable[JobFrame]) -> Iterable[Rail]:
    for frame in frames:
        across, upright = frame.rails_mm
        who = f"{frame.job.display_reference} {frame.names}"
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
        yield Part(*frame.board_mm, f"{frame.job.display_reference} {frame.names}")


# The same week is looked at, printed and confirmed: it is worked out once.
@lru_cache(maxsize=64)
def _cut(
    rails: tuple[Rail, ...], rack: tuple[Bar, ...], stock_mm: int, loss_mm: int, useful_mm: int
) -> BarPlan:
    return cut_bars(rails, stock_mm=stock_mm, rack=rack, loss_mm=loss_mm, useful_mm=useful_mm)


@lru_cache(maxsize=64)
def _cut_boards(parts: tuple[Part, ...], stock: Sheet, kerf_mm: int) -> SheetPlan:
    return cut_sheets(parts, stock=stock, kerf_mm=kerf_mm)
