"""What goes into a cutting and what comes out of it: rails, bars, the plan. Millimetres throughout."""

from collections.abc import Iterable
from dataclasses import dataclass, field

MOST_LENGTH_MM = 20_000
MOST_LOSS_MM = 50


class CannotCut(ValueError):
    """A cutting that cannot be: the sentence says which rail and why."""


@dataclass(frozen=True, slots=True)
class Rail:
    """One piece to cut. Rails with the same `matched` come side by side out of one bar."""

    length_mm: int
    name: str = ""
    matched: str = ""


@dataclass(frozen=True, slots=True)
class Bar:
    """A bar of stock, or an offcut by its label. `defects` are stretches that no rail may touch."""

    length_mm: int
    name: str = ""
    defects: tuple[tuple[int, int], ...] = ()

    def runs(self, loss_mm: int) -> tuple["Run", ...]:
        """The clear stretches; a cut beside a defect falls into the defect, widened to the saw."""
        found, at = [], 0
        for start, end in sorted(self.defects):
            if start > at:
                found.append(Run(at, min(start, self.length_mm)))
            at = max(at, end, start + loss_mm)
        if at < self.length_mm:
            found.append(Run(at, self.length_mm))
        return tuple(found)


@dataclass(frozen=True, slots=True)
class Run:
    """A stretch of a bar, in millimetres from its left end."""

    from_mm: int
    to_mm: int

    @property
    def length_mm(self) -> int:
        return self.to_mm - self.from_mm


@dataclass(frozen=True, slots=True)
class Cut:
    """A rail and where it begins on its bar."""

    rail: Rail
    from_mm: int

    @property
    def to_mm(self) -> int:
        return self.from_mm + self.rail.length_mm


@dataclass(frozen=True, slots=True)
class CutBar:
    """One bar with its cuts in order, what goes back to the rack, and what is lost."""

    bar: Bar
    is_new: bool
    cuts: tuple[Cut, ...]
    offcuts: tuple[Run, ...]

    @property
    def scrap_mm(self) -> int:
        """Neither rail nor offcut: saw dust, defects and ends too short to keep."""
        kept = sum(cut.rail.length_mm for cut in self.cuts)
        return self.bar.length_mm - kept - sum(run.length_mm for run in self.offcuts)


@dataclass(frozen=True, slots=True)
class Proof:
    """Why no fewer bars can do: weigh each rail, and no bar holds more than so much weight.

    `weights` by taken length (rail + loss, matched rails together); a new bar holds at most `most`,
    the rack's offcuts together `in_offcuts`; so `least` = ⌈(all - in_offcuts) / most⌉. Whole numbers:
    anybody can work it out again.
    """

    least: int
    weights: tuple[tuple[int, int], ...] = ()
    most: int = 0
    in_offcuts: int = 0


@dataclass(frozen=True, slots=True)
class BarPlan:
    """Which rail comes out of which bar.

    `useful_mm` adds up by how much each offcut is longer than the shortest that is kept, the rack's
    untouched ones included: so one long rest counts more than two short ones. `useful_most_mm` is a
    proven bound on it.
    """

    bars: tuple[CutBar, ...]
    proof: Proof
    useful_mm: int
    useful_most_mm: int
    untouched: tuple[Bar, ...] = field(default=())

    @property
    def new_bars(self) -> int:
        return sum(bar.is_new for bar in self.bars)

    @property
    def is_proven(self) -> bool:
        """No cutting takes fewer new bars."""
        return self.new_bars == self.proof.least

    @property
    def offcuts_proven(self) -> bool:
        """Nor does any with so few leave more useful offcuts."""
        return self.is_proven and self.useful_mm == self.useful_most_mm


def check_rails(rails: Iterable[Rail], bars: Iterable[Bar], loss_mm: int) -> None:
    """Raises CannotCut for a length or a loss that cannot be meant."""
    if not 0 <= loss_mm <= MOST_LOSS_MM:
        raise CannotCut(f"The loss at a cut lies between 0 and {MOST_LOSS_MM} mm.")
    lengths: list[Rail | Bar] = [*rails, *bars]
    for each in lengths:
        if not 0 < each.length_mm <= MOST_LENGTH_MM:
            raise CannotCut(f"A length of {each.length_mm} mm cannot be meant.")
    for bar in bars:
        if any(not 0 <= start < end <= bar.length_mm for start, end in bar.defects):
            raise CannotCut(f"A defect of {bar.name or 'a bar'} lies outside the bar.")
