"""Inputs and results of cutting bars: rails, bars, offcuts, the plan and its proof. All in millimetres."""

from collections.abc import Iterable
from dataclasses import dataclass, field

MAX_LENGTH_MM = 20_000

MAX_LOSS_MM = 50


class CannotCut(ValueError):
    """An impossible cutting; the message says which part and why."""


@dataclass(frozen=True, slots=True)
class Rail:
    """One rail to cut. Rails with the same non-empty `matched` are cut side by side from one bar (matching grain)."""

    length_mm: int
    name: str = ""
    matched: str = ""


@dataclass(frozen=True, slots=True)
class Bar:
    """A new bar, or a stored offcut with its label as `name`. `defects`: stretches (start, end) to leave out."""

    length_mm: int
    name: str = ""
    defects: tuple[tuple[int, int], ...] = ()

    def runs(self, loss_mm: int) -> tuple["Run", ...]:
        """The stretches between defects. A cut beside a defect falls into it; a defect takes `loss_mm` at least."""
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
    """A stretch of a bar, measured from its left end."""

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
    """One bar with its cuts in order and the offcuts to keep."""

    bar: Bar
    is_new: bool
    cuts: tuple[Cut, ...]
    offcuts: tuple[Run, ...]


@dataclass(frozen=True, slots=True)
class Proof:
    """Proof that at least `least` new bars are needed: give each rail a weight; no bar holds more than so much.

    `weights` by length taken (rail + loss, matched rails together). A new bar holds at most the weight `most`, the
    offcuts together `in_offcuts`; so `least` = ⌈(sum of weights - in_offcuts) / most⌉. Whole numbers, easy to check.
    """

    least: int
    weights: tuple[tuple[int, int], ...] = ()
    most: int = 0
    in_offcuts: int = 0


@dataclass(frozen=True, slots=True)
class BarPlan:
    """Which rail is cut from which bar; `untouched` are the offcuts left whole.

    `useful_mm` sums, over all offcuts (untouched ones too), the length beyond the shortest that is kept: one long
    offcut counts more than two short ones. `useful_most_mm` is a proven upper bound of it.
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
        """Whether no plan needs fewer new bars."""
        return self.new_bars == self.proof.least

    @property
    def offcuts_proven(self) -> bool:
        """Whether no plan with the fewest new bars leaves more useful offcuts."""
        return self.is_proven and self.useful_mm == self.useful_most_mm


def check_rails(rails: Iterable[Rail], bars: Iterable[Bar], loss_mm: int) -> None:
    """Check lengths, defects and the loss per cut; raise CannotCut for one that is out of range."""
    if not 0 <= loss_mm <= MAX_LOSS_MM:
        raise CannotCut(f"The loss at a cut lies between 0 and {MAX_LOSS_MM} mm.")
    lengths: list[Rail | Bar] = [*rails, *bars]
    for each in lengths:
        if not 0 < each.length_mm <= MAX_LENGTH_MM:
            raise CannotCut(f"A length of {each.length_mm} mm cannot be meant.")
    for bar in bars:
        if any(not 0 <= start < end <= bar.length_mm for start, end in bar.defects):
            raise CannotCut(f"A defect of {bar.name or 'a bar'} lies outside the bar.")
