"""What a cutting takes from the stores, and what the frames still to be cut will take.

A new bar is borne whole by the jobs of the cutting that opens it, each by the length of its rails: an
offcut has no price, for it may lie in the rack for a year or be thrown away, and what is cut out of it
later is free. The rack keeps no sheets: of boards and glass what is left large enough to keep stays in
the stores, the rest is used up, and each job bears it by the area of its own.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from production.frames import job_frames
from production.frames.cutting.cut_sheets import SheetPlan
from production.frames.cutting_week import CuttingWeek
from production.frames.models import FrameHabits
from production.stock.models import Material
from studio.accounts.models import Unit
from studio.jobs.models import Job

RAILS, BOARDS, GLASS = "rails", "boards", "glass"


@dataclass(frozen=True, slots=True)
class MaterialUse:
    """Of one material, in its base unit; `weights` says how the jobs share it.

    `bar_mm` where it comes in bars, else 0. `what` names it: "rails", "boards" or "glass".
    """

    what: str
    material: Material
    quantity: int
    weights: Mapping[Job, int]
    bar_mm: int = 0

    def short_words(self, stock: int) -> str:
        """What is missing, as it is told at the press; empty where there is enough."""
        missing = self.quantity - stock
        if missing <= 0:
            return ""
        held, wanted, lacking = (self._say(each) for each in (stock, self.quantity, missing))
        if self.bar_mm:
            lacking = _bars(-(-missing // self.bar_mm))
        return (
            f"{lacking} of {self.material} short: the stores hold {held}, this cutting takes {wanted}. "
            "Cut what you have, or count what is there."
        )

    def _say(self, quantity: int) -> str:
        if not quantity:
            return "none"
        if self.bar_mm and quantity % self.bar_mm == 0:
            return _bars(quantity // self.bar_mm)
        return self.material.say(quantity)


def _bars(number: int) -> str:
    return f"{number} bar{'' if number == 1 else 's'}"


def cutting_uses(week: CuttingWeek, habits: FrameHabits) -> list[MaterialUse]:
    """What this cutting takes of the materials that stand for its wood, boards and glass."""
    if week.plan is None:
        return []
    rails = {frame.job: 2 * sum(frame.rails_mm) for frame in week.frames}
    areas = {frame.job: frame.board_mm2 for frame in week.frames}
    stock_mm = week.moulding.stock_mm
    found = [
        (RAILS, week.moulding.material, week.plan.new_bars * stock_mm, rails, stock_mm),
        (BOARDS, habits.board_material, _spent(week.boards), areas, 0),
        (GLASS, habits.glass_material, _spent(week.glass), areas, 0),
    ]
    return [
        MaterialUse(what, material, quantity, weights, bar_mm)
        for what, material, quantity, weights, bar_mm in found
        if material and is_used_by_cuttings(material) and quantity
    ]


def _spent(plan: SheetPlan | None) -> int:
    return plan.spent_mm2 if plan else 0


def is_used_by_cuttings(material: Material) -> bool:
    """What a frame begun takes by itself would be taken twice."""
    return material.used_at == Material.UsedAt.HAND and material.retired_at is None


def shortages(unit: Unit, uses: Iterable[MaterialUse]) -> list[str]:
    """What the stores do not hold of it, in sentences. One query, none where nothing is taken."""
    wanted = list(uses)
    if not wanted:
        return []
    rows = unit.materials.filter(pk__in=[each.material.pk for each in wanted]).with_stock()
    stock = {row.pk: int(row.stock) for row in rows}  # type: ignore[attr-defined]  # of `with_stock`
    told = (each.short_words(stock[each.material.pk]) for each in wanted)
    return [words for words in told if words]


def linked_materials(unit: Unit) -> frozenset[int]:
    """The materials that cuttings take from. Two queries."""
    mouldings = unit.mouldings.filter(retired_at=None).values_list("material_id", flat=True)
    habits = FrameHabits.objects.filter(unit=unit)
    sheets = habits.values_list("board_material_id", "glass_material_id").first() or ()
    return frozenset(pk for pk in (*mouldings, *sheets) if pk)


def needs_ahead(unit: Unit, today: date) -> Mapping[str, Mapping[int, int]]:
    """What each job's frame that is not cut will take of which material, by reference and number.

    Rails with what the saw takes, boards and panes as they are; bars are opened whole, so the usual
    use tells more: it is what counts where it is more. Constant queries.
    """
    range_ = job_frames.frame_range(unit)
    habits, found = range_.habits, {}
    for frame in job_frames.frames_ahead(unit, today, range_):
        uses = (
            (frame.moulding.material_id, frame.moulding_mm),
            (habits.board_material_id, frame.board_mm2),
            (habits.glass_material_id, frame.board_mm2),
        )
        found[frame.reference] = {pk: amount for pk, amount in uses if pk}
    return found
