"""What the apps show on pages that belong to all of them: Today, a job, a family.

Each app registers its part in `ready()`; the core draws them in order and imports none of them.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, Literal, TypeVar

from studio.roles import Role

if TYPE_CHECKING:
    from studio.accounts.models import Unit
    from studio.families.models import Family
    from studio.jobs.models import Job, Piece


@dataclass(frozen=True, slots=True)
class TodayItem:
    """One line on Today: a thing to touch now, or money to ask for."""

    group: Literal["sittings", "bench", "families", "owed"]
    title: str
    url: str
    who: str = ""
    reference: str = ""
    at: datetime | None = None
    due_on: date | None = None
    why_late: str = ""
    amount_minor: int | None = None


@dataclass(frozen=True, slots=True)
class Panel:
    """A section of a page: a template in the app's folder, and what it takes."""

    title: str
    template: str
    context: dict[str, Any] = field(default_factory=dict)
    anchor: str = ""


@dataclass(frozen=True, slots=True)
class NextStep:
    """What is to be done with one piece next, and where: the page that a label opens says it."""

    words: str
    url: str = ""
    label: str = ""


TodaySource = Callable[["Unit", Role, datetime], Iterable[TodayItem]]
JobPanel = Callable[["Job", Role, datetime], Panel | None]
FamilyPanel = Callable[["Family", Role, datetime], Panel | None]
PieceStep = Callable[["Piece", Role, datetime], NextStep | None]

F = TypeVar("F")

_today: list[tuple[int, TodaySource]] = []
_job: list[tuple[int, JobPanel]] = []
_family: list[tuple[int, FamilyPanel]] = []
_piece: list[tuple[int, PieceStep]] = []


def today_source(order: int) -> Callable[[TodaySource], TodaySource]:
    """Register a function that yields what a unit has to touch now; low `order` first."""

    def register(source: TodaySource) -> TodaySource:
        _today.append((order, source))
        return source

    return register


def job_panel(order: int) -> Callable[[JobPanel], JobPanel]:
    """Register a section of the job page; None leaves it out."""

    def register(panel: JobPanel) -> JobPanel:
        _job.append((order, panel))
        return panel

    return register


def family_panel(order: int) -> Callable[[FamilyPanel], FamilyPanel]:
    """Register a section of the family page; None leaves it out."""

    def register(panel: FamilyPanel) -> FamilyPanel:
        _family.append((order, panel))
        return panel

    return register


def piece_step(order: int) -> Callable[[PieceStep], PieceStep]:
    """Register who knows what a piece waits for; None where that is another's to say."""

    def register(step: PieceStep) -> PieceStep:
        _piece.append((order, step))
        return step

    return register


def today_items(unit: "Unit", role: Role, now: datetime) -> list[TodayItem]:
    return [item for _, source in _in_order(_today) for item in source(unit, role, now)]


def job_panels(job: "Job", role: Role, now: datetime) -> list[Panel]:
    return [shown for _, panel in _in_order(_job) if (shown := panel(job, role, now))]


def family_panels(family: "Family", role: Role, now: datetime) -> list[Panel]:
    return [shown for _, panel in _in_order(_family) if (shown := panel(family, role, now))]


def next_step(piece: "Piece", role: Role, now: datetime) -> NextStep | None:
    """The first that anybody has to say; None of a piece that nothing is left to do with."""
    said = (step(piece, role, now) for _, step in _in_order(_piece))
    return next((found for found in said if found), None)


def _in_order(kept: list[tuple[int, F]]) -> list[tuple[int, F]]:
    return sorted(kept, key=lambda entry: entry[0])
