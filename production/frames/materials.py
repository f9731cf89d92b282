"""Materials that cuttings use, now and for frames still to cut.

The cost of a new bar is borne by the jobs of the cutting that opens it, by the length of their rails. An offcut
has no price, because it may stay unused for a year or be thrown away. Large remainders of boards and glass stay
in stock; the rest is used up, shared by the jobs by area.
"""

from collections.abc import Iterable, Mapping, Sequence
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
    """Quantity of one material that a cutting uses, in its base unit; jobs share it by `weights`.

    `what` is "rails", "boards" or "glass". `bar_mm`: length of a bar, 0 if it does not come in bars.
    """

    what: str
    material: Material
    quantity: int
    weights: Mapping[Job, int]
    bar_mm: int = 0

    def short_words(self, stock: int) -> str:
        """Say what is missing with this `stock`; empty if there is enough."""
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
    """Return what this cutting uses of the materials linked to moulding, boards and glass."""
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
    """Whether cuttings withdraw this material: not if frames already withdraw it when they are started."""
    return material.used_at == Material.UsedAt.HAND and material.retired_at is None


def shortages(unit: Unit, uses: Iterable[MaterialUse]) -> list[str]:
    """Return a sentence for each material of which the stores hold too little. At most one query."""
    wanted = list(uses)
    if not wanted:
        return []
    rows = unit.materials.filter(pk__in=[each.material.pk for each in wanted]).with_stock()
    stock = {row.pk: int(row.stock) for row in rows}  # type: ignore[attr-defined]  # of `with_stock`
    told = (each.short_words(stock[each.material.pk]) for each in wanted)
    return [words for words in told if words]


@dataclass(frozen=True, slots=True)
class CutAhead:
    """Materials (primary keys) used frame by frame, and what each uncut frame will use of them in base units, by job
    reference and material.
    """

    materials: frozenset[int]
    needs: Mapping[str, Mapping[int, int]]


def cut_ahead(
    unit: Unit, jobs: Sequence[Job], materials: Iterable[Material], today: date
) -> CutAhead:
    """Return which of these materials cuttings use, and what the frames of these open jobs will use.

    Rails include the loss at each cut. Bars are opened whole, so usual use may be higher; the larger of the two
    counts. At most nine queries.
    """
    habits, mouldings = job_frames.habits_and_mouldings(unit)
    linked = {each.material_id for each in mouldings}
    linked |= {habits.board_material_id, habits.glass_material_id}
    cut = frozenset(m.pk for m in materials if m.pk in linked and is_used_by_cuttings(m))
    range_ = job_frames.complete_range(unit, habits, mouldings) if cut else None
    return CutAhead(cut, _needs(jobs, range_, today) if range_ else {})


def _needs(
    jobs: Sequence[Job], range_: job_frames.Range, today: date
) -> Mapping[str, Mapping[int, int]]:
    habits, found = range_.habits, {}
    for frame in job_frames.frames_ahead(jobs, today, range_):
        uses = (
            (frame.moulding.material_id, frame.moulding_mm),
            (habits.board_material_id, frame.board_mm2),
            (habits.glass_material_id, frame.board_mm2),
        )
        found[frame.reference] = {pk: amount for pk, amount in uses if pk}
    return found
