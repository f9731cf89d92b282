"""Parts of the pages Today, job and family that each app registers in `ready()`.

The core shows them in order without importing the apps.
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
    """One line on Today: work that is due, or an amount that is owed.

    `detail` is a small second line, with the job's `reference` behind it. An item belongs to the day `due_on`, else
    to that of `at`, else to today; `at` is shown as its time. With `why_late` (a sentence) it is listed as late.
    """

    group: Literal["sittings", "bench", "families", "owed"]
    title: str
    url: str
    detail: str = ""
    reference: str = ""
    at: datetime | None = None
    due_on: date | None = None
    why_late: str = ""
    amount_minor: int | None = None


@dataclass(frozen=True, slots=True)
class Panel:
    """A section of a page: a template of the app and its context."""

    title: str
    template: str
    context: dict[str, Any] = field(default_factory=dict)
    anchor: str = ""


@dataclass(frozen=True, slots=True)
class NextStep:
    """The next step of a piece and the page for it, shown on the page that a label's code opens."""

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
    """Register a function that yields items for Today; shown by ascending `order`."""

    def register(source: TodaySource) -> TodaySource:
        _today.append((order, source))
        return source

    return register


def job_panel(order: int) -> Callable[[JobPanel], JobPanel]:
    """Register a function that makes a section of the job page, or None to leave it out."""

    def register(panel: JobPanel) -> JobPanel:
        _job.append((order, panel))
        return panel

    return register


def family_panel(order: int) -> Callable[[FamilyPanel], FamilyPanel]:
    """Register a function that makes a section of the studio's page of a family, or None."""

    def register(panel: FamilyPanel) -> FamilyPanel:
        _family.append((order, panel))
        return panel

    return register


def piece_step(order: int) -> Callable[[PieceStep], PieceStep]:
    """Register a function that finds the next step of a piece; None leaves it to the others."""

    def register(step: PieceStep) -> PieceStep:
        _piece.append((order, step))
        return step

    return register


def today_items(unit: "Unit", role: Role, now: datetime) -> list[TodayItem]:
    """Collect the items for Today from all apps."""
    return [item for _, source in _in_order(_today) for item in source(unit, role, now)]


def job_panels(job: "Job", role: Role, now: datetime) -> list[Panel]:
    """Collect the sections of the job page from all apps."""
    return [shown for _, panel in _in_order(_job) if (shown := panel(job, role, now))]


def family_panels(family: "Family", role: Role, now: datetime) -> list[Panel]:
    """Collect the sections of the studio's page of a family from all apps."""
    return [shown for _, panel in _in_order(_family) if (shown := panel(family, role, now))]


def next_step(piece: "Piece", role: Role, now: datetime) -> NextStep | None:
    """Find the next step of a piece; None if nothing is left to do."""
    steps = (step(piece, role, now) for _, step in _in_order(_piece))
    return next((step for step in steps if step), None)


def _in_order(registered: list[tuple[int, F]]) -> list[tuple[int, F]]:
    return sorted(registered, key=lambda entry: entry[0])
