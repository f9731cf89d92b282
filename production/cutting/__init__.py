"""The week's cutting: rails out of bars (`bars`), boards and glass out of sheets (`sheets`). Pure.

`weighing` proves, `packing` finds by rule of thumb, `columns` and `diving` by linear programs,
`search` spares the rack;
`guillotine` fills one sheet. Sources stand in their first lines.
"""

from production.cutting.bars import cut_bars
from production.cutting.sheets import Area, CutSheet, Part, Placed, Sheet, SheetPlan, cut_sheets
from production.cutting.stock import Bar, BarPlan, CannotCut, Cut, CutBar, Proof, Rail, Run

__all__ = [
    "Area",
    "Bar",
    "BarPlan",
    "CannotCut",
    "Cut",
    "CutBar",
    "CutSheet",
    "Part",
    "Placed",
    "Proof",
    "Rail",
    "Run",
    "Sheet",
    "SheetPlan",
    "cut_bars",
    "cut_sheets",
]
